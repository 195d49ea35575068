package terminal

import (
	"fmt"

	"whystone/engine/phrase"
	"whystone/engine/separation"
	"whystone/kb"
	"whystone/kb/english"
)

// shownPairs is how many pairs are named that hang on one test; all of them are in the other form of the report.
const shownPairs = 3

// Apart writes which materials no harmless test of the house tells apart, what each missing instrument would buy, and
// which pairs hang on one test. With all every pair is named.
func (p *Printer) Apart(rs *kb.Ruleset, r *separation.Report, all bool) {
	p.Text(Accent, 0, "Materials that no harmless test tells apart by itself")
	p.Text(Plain, 2, fmt.Sprintf("%s make %s. One test by itself tells %s of them apart: what it usually gives of "+
		"one excludes the other, or is at least %s likelier under that one than under the other. Every test of the "+
		"ruleset is taken to be in the house, less what --lacks names; those that harm, that can't be done on a "+
		"loose stone, or that a rule forbids don't count.",
		english.Count(r.Materials, "material", "materials"), english.Count(r.Pairs, "pair", "pairs"),
		english.Thousands(float64(r.Apart)), number(r.Required)+" times"))
	if len(r.Lacks) > 0 {
		p.Field("Lacks", Plain, phrase.TestsByName(rs, r.Lacks)...)
	}
	p.alike(rs, "Not told apart by any test of the house by itself", r, false)
	p.alike(rs, "Not told apart, and a verdict may name a group that holds them", r, true)
	p.bought(rs, "What each missing instrument would buy, by itself", r.Buys, all)
	if len(r.Buys) > 1 {
		p.Text(Dim, 2, "A pair that two of them would tell apart is counted with both.")
	}
	p.bought(rs, "What hangs on one test of the house", r.Loses, all)
}

// alike writes the groups that are expected, or those that are not.
func (p *Printer) alike(rs *kb.Ruleset, head string, r *separation.Report, expected bool) {
	first := true
	for i := range r.Alike {
		g := &r.Alike[i]
		if g.Expected != expected {
			continue
		}
		if first {
			p.section(head)
			first = false
		}
		names := english.Each(g.Materials, func(id string) string { return materialOf(rs, id) })
		p.hang(Plain, "  ", "    ", english.List(names, "and"))
		for _, r := range g.Reasons[1:] { // the first is what the heading says
			p.hang(Dim, "    ", "      ", r.Says)
		}
	}
}

// bought writes tests, and of each the first few pairs that hang on it alone.
func (p *Printer) bought(rs *kb.Ruleset, head string, list []separation.Bought, all bool) {
	if len(list) > 0 {
		p.section(head)
	}
	for _, b := range list {
		says := phrase.TestsByName(rs, []string{b.Test})[0] + ": "
		if b.Count == 0 {
			p.hang(Plain, "  ", "    ", says+"nothing new")
			continue
		}
		says += english.Count(b.Count, "pair", "pairs")
		switch {
		case b.Expected == b.Count:
			says += ", which a verdict may name together"
		case b.Expected > 0:
			says += fmt.Sprintf(", %s of which a verdict may name together", english.Thousands(float64(b.Expected)))
		}
		p.hang(Plain, "  ", "    ", says)
		shown := b.Pairs
		if !all && len(shown) > shownPairs+1 {
			shown = shown[:shownPairs]
		}
		for _, x := range shown {
			p.hang(Dim, "    ", "      ", materialOf(rs, x[0])+" from "+materialOf(rs, x[1]))
		}
		if more := len(b.Pairs) - len(shown); more > 0 {
			p.Text(Dim, 4, "and "+english.Thousands(float64(more))+" more")
		}
	}
}
