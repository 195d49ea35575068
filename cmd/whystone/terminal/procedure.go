package terminal

import (
	"maps"
	"slices"
	"strings"

	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/english"
	"whystone/kb/vocab"
)

var harmWords = map[kb.Harm]string{
	kb.NoHarm:   "none",
	kb.Contact:  "it touches the stone",
	kb.Marks:    "it marks the stone",
	kb.Destroys: "it can destroy the stone",
}

// Procedures lists the tests: those that may be done first, then those that harm.
func (p *Printer) Procedures(rs *kb.Ruleset) {
	for _, harmless := range []bool{true, false} {
		head := "Tests"
		if !harmless {
			head = "Never done to find out; their sheets tell how a result is read"
			p.Blank()
		}
		p.Text(Bold, 0, head)
		p.list(english.Only(rs.Tests, func(t *kb.Test) (pair, bool) {
			return pair{Plain, "  " + t.Name, t.ID}, t.Harmless() == harmless
		}))
	}
}

// Procedure writes a test sheet. Of a test that marks or destroys it tells how a result is read, and the cautions,
// first.
func (p *Printer) Procedure(rs *kb.Ruleset, t *kb.Test) {
	p.Columns(Accent, t.Name, t.ID)
	if !t.Harmless() {
		p.Text(Bold, 2, "Not to be done to find out: "+harmWords[t.Harm]+
			". This sheet tells how a result is read that somebody already has.")
		p.Field("Caution", Bold, t.Cautions...)
		p.fieldIf("Read it so", t.Procedure)
	} else {
		p.fieldIf("How", t.Procedure)
		p.Field("Caution", Bold, t.Cautions...)
	}
	p.fieldIf("Worth", t.Worth)
	if t.Harmless() {
		p.Field("Needs", Plain, english.Each(t.Needs, func(n kb.Need) string {
			return n.Says + map[bool]string{true: " (else a reading is not counted)"}[n.Spoils]
		})...)
		p.fieldIf("Minutes", number(t.Minutes))
		p.fieldIf("Harm", harmWords[t.Harm])
	}
	p.fieldIf("Also", strings.Join(t.Also, "; "))
	p.fieldIf("Formerly", strings.Join(t.Was, ", "))
	p.fieldIf("Source", t.Source)
	p.fieldIf("Stands in", place(t.Place))
	for _, y := range t.Yields {
		p.yield(t, y)
	}
	p.instruments(rs, t)
}

// yield writes what a test gives of one observable.
func (p *Printer) yield(t *kb.Test, y *vocab.Yield) {
	o := y.Observable
	p.Blank()
	p.Columns(Bold, "Gives "+phrase.InWords(o.Name), "as "+o.Name)
	p.Field("Rests on", Plain, o.Family+map[bool]string{false: "; declared by the test " + o.Test}[o.Test == t.ID])
	p.Field("Mistaken", Plain, rate(y.Blunder))
	switch o.Kind {
	case vocab.Quantity:
		unit := phrase.Unit(o)
		p.Field("Reads", Plain, span(y.Limits[0], y.Limits[1])+unit)
		within := []string{number(y.Uncertainty) + unit + " (standard uncertainty, k = 1)"}
		if y.Formula != "" {
			within = []string{y.Formula, "else " + within[0]}
		}
		p.Field("To within", Plain, within...)
		p.Field("Figures", Plain, figuresOf(y)...)
	case vocab.Choice:
		p.Field("Outcomes", Plain, p.choices(y)...)
	default:
		p.Field("Features", Plain, strings.Join(o.Words(), "; "))
		p.Field("By place", Plain, places(o)...)
		p.Field("Strength", Plain, strings.Join(o.Strengths, ", "))
	}
	if o.Neighbour > 0 {
		p.Field("Alike", Plain, append(neighbours(o), "called by a neighbour's name: "+rate(o.Neighbour))...)
	}
}

// places lists the features that may be read by where they lie, and how far off.
func places(o *vocab.Observable) []string {
	return english.Only(o.Listed(), func(c vocab.Outcome) (string, bool) {
		at := english.List(english.Each(c.At, number), "and")
		return strings.TrimSpace(at+" "+o.Unit) + " ± " + number(c.Within) + ": " + c.Name, len(c.At) > 0
	})
}

// neighbours lists which outcomes are called by each other's names.
func neighbours(o *vocab.Observable) []string {
	return english.Only(o.Listed(), func(c vocab.Outcome) (string, bool) {
		near := o.Named(c.Neighbours)
		return c.Name + " and " + english.List(near, "or"), near != nil
	})
}

// figuresOf lists the figures of an instrument from which the uncertainty follows.
func figuresOf(y *vocab.Yield) []string {
	return english.Each(y.Figures, func(f vocab.Figure) string {
		says := f.Name + ", as the instrument has it"
		if f.Otherwise != nil {
			says += ", else " + number(*f.Otherwise)
		}
		return says
	})
}

// rate says how often a reading says nothing about the stone.
func rate(e float64) string {
	return "about " + sig(e*100) + " readings in 100"
}

// outcomeRate is how often one outcome is mistaken; one that is so oftener than not says next to nothing by being read.
func outcomeRate(e float64) string {
	if e > 0.5 {
		return ", says hardly anything: of 100 such readings about " + sig(100-e*100) +
			" tell of the stone"
	}
	return ", mistaken " + rate(e)
}

func (p *Printer) choices(y *vocab.Yield) []string {
	o := y.Observable
	var out []string
	for i, c := range o.Outcomes {
		says := c.Name
		if len(c.Also) > 0 {
			says += " (also: " + strings.Join(c.Also, ", ") + ")"
		}
		if c.Covers != 0 {
			says += ", leaves open: " + strings.Join(o.Of(c.Covers), ", ")
		}
		if e := y.BlunderOf(i); e != y.Blunder {
			says += outcomeRate(e)
		}
		out = append(out, says)
	}
	return out
}

// instruments lists the house's own for a test.
func (p *Printer) instruments(rs *kb.Ruleset, t *kb.Test) {
	says := english.Only(rs.Vocabulary.Instruments, func(in *vocab.Instrument) (string, bool) {
		text := in.ID
		if in.Uncertainty > 0 {
			text += ", to within " + number(in.Uncertainty)
		}
		for _, name := range slices.Sorted(maps.Keys(in.Figures)) {
			text += ", " + name + " " + number(in.Figures[name])
		}
		return text, in.Test == t.ID
	})
	if says != nil {
		slices.Sort(says)
		p.Blank()
		p.Field("In house", Plain, says...)
	}
}
