package sat

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"whystone/kb/english"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// Sure tells whether the box leaves every leaf outside the analysable fragment free.
func (b *Box) Sure() bool {
	return !slices.ContainsFunc(b.parts, func(p part) bool { return b.space.dims[p.dim].kind == opaque })
}

// Setting is what one thing of a case is set to: a reading, a property of the stone, the claim, the stake, or the day.
type Setting struct {
	Name  string       // as conditions name it; the day is "taken"
	Value *syntax.Node // as a case gives it
	Says  string       // in words
}

// Settings is a case of the box: what is read, and how. Sharp readings are taken where the box has any, and what may be
// missing is left out. An error says that the box can't be written down as a case.
func (b *Box) Settings(mode Mode) ([]Setting, error) {
	if !b.Sure() {
		return nil, fmt.Errorf("it leans on a part of a condition that is outside what is analysed")
	}
	var out []Setting
	for i := range b.parts {
		p := &b.parts[i]
		d := b.space.dims[p.dim]
		if p.c.status&missing != 0 {
			continue
		}
		s, err := b.setting(d, &p.c, mode)
		if err != nil {
			return nil, err
		}
		if s.Value != nil {
			out = append(out, s)
		}
	}
	slices.SortFunc(out, func(a, b Setting) int { return strings.Compare(a.Name, b.Name) })
	return out, nil
}

func (b *Box) setting(d *dim, c *constraint, mode Mode) (Setting, error) {
	if d.slot < 0 {
		return day(c), nil
	}
	sym := b.space.rs.Scope.At(d.slot)
	if c.status&there == 0 {
		tried := syntax.NewMap(syntax.Keyed("inconclusive", syntax.NewText("tried, and it stayed open")))
		return Setting{sym.Name, tried, "inconclusive"}, nil
	}
	var v *syntax.Node
	switch d.kind {
	case quantity:
		return b.measured(d, sym.Observable, c, mode)
	case number:
		x, ok := between(c.lo.both(c.hi))
		if !ok {
			return Setting{}, fmt.Errorf("no number lies within what is asked of %s", sym.Name)
		}
		v = syntax.NewWord(x)
	case choice:
		return chosen(sym.Observable, c), nil
	case features:
		return looked(sym.Observable, c, mode), nil
	case truth:
		v = syntax.NewWord(strconv.FormatBool(c.truths&yes != 0))
	case text:
		v = syntax.NewText(c.word(sym.Name))
	}
	return Setting{sym.Name, v, v.Text}, nil
}

// word is a text that the constraint allows.
func (c *constraint) word(name string) string {
	for _, w := range c.in {
		if !slices.Contains(c.out, w) {
			return w
		}
	}
	other := "some other " + name[strings.LastIndex(name, ".")+1:]
	for slices.Contains(c.out, other) {
		other += " again"
	}
	return other
}

// day is a date within the period; the case need not have one where there is none.
func day(c *constraint) Setting {
	e := c.lo.both(c.hi)
	var at time.Time
	switch {
	case !math.IsInf(e.min, 0):
		at = time.Unix(int64(e.min), 0).UTC()
	case !math.IsInf(e.max, 0):
		at = time.Unix(int64(e.max)-1, 0).UTC()
	default:
		return Setting{}
	}
	says := at.Format(time.RFC3339)
	return Setting{"taken", syntax.NewText(says), says}
}

// chosen is a choice: one by itself if it may be, else one that covers what is left open, else several places that were
// read unlike.
func chosen(o *vocab.Observable, c *constraint) Setting {
	if m := c.single(); m != 0 {
		for i := range o.Outcomes {
			if o.Outcomes[i].Covers == 0 && m>>i&1 == 1 {
				return word(o, i)
			}
		}
	}
	for i := range o.Outcomes {
		if m := o.Outcomes[i].Covers; m != 0 && m&^c.within == 0 && !slices.ContainsFunc(c.meets,
			func(k uint64) bool { return m&k == 0 }) {
			return word(o, i)
		}
	}
	places, words := syntax.NewList(), []string(nil)
	for i := range o.Outcomes {
		if o.Outcomes[i].Covers == 0 && c.within>>i&1 == 1 {
			words = append(words, o.Outcomes[i].Name)
			places.Items = append(places.Items, inPlace(len(words), "choice", syntax.NewText(o.Outcomes[i].Name)))
		}
	}
	return Setting{o.Name, places, strings.Join(words, " and ") + ", in several places"}
}

// inPlace is a reading in one of several places.
func inPlace(n int, key string, value *syntax.Node) *syntax.Node {
	return syntax.NewMap(syntax.Keyed(key, value), syntax.Keyed("where", syntax.NewText(fmt.Sprintf("place %d", n))))
}

func word(o *vocab.Observable, i int) Setting {
	return Setting{o.Name, syntax.NewText(o.Outcomes[i].Name), o.Outcomes[i].Name}
}

// looked is what was looked for and seen. A sharp reading gives a plain answer for every feature that is asked for. A
// reading that is there says something of some feature, even where none is asked for; where all must stay open, two
// places differ.
func looked(o *vocab.Observable, c *constraint, mode Mode) Setting {
	saw, vain := c.seen, c.unseen
	if mode == Sharp {
		saw.Union(c.notUnseen)
		vain.Union(c.notSeen)
	}
	for i := 0; i < len(o.Outcomes) && saw.Empty() && vain.Empty(); i++ {
		switch {
		case !c.notUnseen.Has(i):
			vain.Add(i)
		case !c.notSeen.Has(i):
			saw.Add(i)
		}
	}
	name := func(i int) string { return o.Outcomes[i].Name }
	seen, not := english.Each(saw.Members(), name), english.Each(vain.Members(), name)
	says := append(slices.Clone(seen), english.Each(not, func(w string) string { return "no " + w })...)
	if len(says) == 0 {
		w := syntax.NewTexts(o.Outcomes[0].Name)
		return Setting{o.Name, syntax.NewList(inPlace(1, "features", w), inPlace(2, "looked_for", w)),
			"unlike in two places"}
	}
	value := syntax.NewMap(syntax.Keyed("features", syntax.NewTexts(seen...)))
	if len(not) > 0 {
		value.Entries = append(value.Entries, syntax.Keyed("looked_for", syntax.NewTexts(not...)))
	}
	return Setting{o.Name, value, strings.Join(says, ", ")}
}
