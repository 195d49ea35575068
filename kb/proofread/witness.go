package proofread

import (
	"slices"
	"strings"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/eval"
	"whystone/kb/sat"
	"whystone/kb/syntax"
)

// Witness is a case that shows a defect.
type Witness struct {
	ID   string   // of the case
	Text string   // the case, in YAML, fit to be judged
	Says []string // what it sets, in words: "ri 1.70"
}

// tries is how many boxes are tried for one that can be written down and shows the defect.
const tries = 64

// witness looks for a case of which a formula is true and that shows it when the rules are run: sharp readings first,
// then any. Where it finds none it tells why, unless there is none for sure, or what there may be leans on parts that
// are not analysed, which are listed by themselves.
func (p *Pass) witness(f *sat.Formula, id string, shows func(*eval.Run) bool) (w *Witness, why reason) {
	for _, mode := range []sat.Mode{sat.Sharp, sat.AnyReading} {
		if w, why = p.witnessOf(f, mode, id, shows); w != nil {
			return w, ""
		}
	}
	return nil, why
}

// witnessOf looks among some readings only.
func (p *Pass) witnessOf(f *sat.Formula, mode sat.Mode, id string, shows func(*eval.Run) bool) (w *Witness,
	why reason) {
	left := tries
	answer := p.space.Each(f, mode, func(b *sat.Box) bool {
		if w = p.confirmed(b, mode, id, shows); w == nil && b.Sure() {
			why = notMade
		}
		left--
		return w == nil && left > 0
	})
	switch {
	case w != nil:
		return w, ""
	case answer == sat.Unknown:
		return nil, tooMany
	}
	return nil, why
}

// confirmed writes a box down as a case, reads it back, and runs the rules.
func (p *Pass) confirmed(b *sat.Box, mode sat.Mode, id string, shows func(*eval.Run) bool) *Witness {
	settings, err := b.Settings(mode)
	if err != nil {
		return nil
	}
	w := &Witness{ID: id, Text: caseText(id, settings),
		Says: english.Each(settings, func(s sat.Setting) string { return s.Name + " " + s.Says })}
	c := p.read(w.Text)
	if c == nil {
		return nil
	}
	p.run.Do(c, c.On(p.On))
	if !shows(p.run) {
		return nil
	}
	return w
}

func (p *Pass) read(text string) *casefile.Case {
	var out diag.List
	roots := syntax.ParseYAML(diag.NewSource("witness.yaml", []byte(text)), &out)
	if out.HasErrors() || len(roots) != 1 {
		return nil
	}
	return eval.CaseReader(p.Ruleset).Read(roots[0], &out)
}

// caseText is a case file.
func caseText(id string, settings []sat.Setting) string {
	top := syntax.NewMap(syntax.Keyed("format", syntax.NewWord("1")), syntax.Keyed("case", syntax.NewText(id)))
	stone, readings := syntax.NewMap(), syntax.NewMap()
	for _, s := range settings {
		to, name := readings, s.Name
		if of, ok := strings.CutPrefix(name, "stone."); ok {
			to, name = stone, of
		} else if slices.Contains([]string{"taken", "claim", "stake"}, name) {
			to = top
		}
		to.Entries = append(to.Entries, syntax.Keyed(name, s.Value))
	}
	if len(stone.Entries) > 0 {
		top.Entries = append(top.Entries, syntax.Keyed("stone", stone))
	}
	top.Entries = append(top.Entries, syntax.Keyed("readings", readings))
	return syntax.Write(top, "stone", "readings")
}

// fired tells whether rules fire in a run.
func fired(rules ...*kb.Rule) func(*eval.Run) bool {
	return func(run *eval.Run) bool {
		return !slices.ContainsFunc(rules, func(r *kb.Rule) bool { return !run.Fired(r) })
	}
}
