package separation

import (
	"slices"
	"strings"

	"whystone/engine/phrase"
	"whystone/kb"
)

// Alike lists groups of leaves that no harmless test of the house tells apart, the house being all tests but those that
// it lacks. Being alike is not handed on: A may be like B, and B like C, where a test tells A from C. So every two
// leaves of a group are alike, no leaf could be added to it, and every pair that is alike lies together in at least one
// group. The first pair by id that lies in no group yet starts one, and takes in every other leaf, by id, that is like
// all in it.
func (t *Table) Alike(lacks []string) [][]*kb.Material {
	n := len(t.rs.Leaves)
	house := t.house(lacks)
	alike := func(a, b int) bool { return !t.told[t.pair(a, b)].Meets(house) }
	covered := make([]bool, len(t.told))
	var out [][]*kb.Material
	for a := range n {
		for b := a + 1; b < n; b++ {
			if covered[t.pair(a, b)] || !alike(a, b) {
				continue
			}
			group := []int{a, b}
			for c := range n {
				if !slices.ContainsFunc(group, func(m int) bool { return m == c || !alike(m, c) }) {
					group = append(group, c)
				}
			}
			slices.Sort(group)
			out = append(out, t.cover(group, covered))
		}
	}
	return out
}

func (t *Table) cover(group []int, covered []bool) []*kb.Material {
	var out []*kb.Material
	for k, m := range group {
		out = append(out, t.rs.Leaves[m])
		for _, o := range group[k+1:] {
			covered[t.pair(m, o)] = true
		}
	}
	return out
}

// Group is some leaves that no harmless test of the house tells apart, any two of them.
type Group struct {
	Materials []*kb.Material // by id
	// Within is the lowest nameable group that holds them all, or nil.
	Within *kb.Material
	// Nearest is the test that comes nearest to telling some two of them apart; its Test is nil when none favours any.
	Nearest Near
	// Signs is what parts some of them sometimes.
	Signs []Seen
	// Reasons tell all this, one after another.
	Reasons []phrase.Reason
}

// Expected tells whether nobody needs to tell them apart: a verdict may name a group that holds them all.
func (g *Group) Expected() bool { return g.Within != nil }

// Findings tells of each group of Alike what there is to tell, those that are not expected first.
func (t *Table) Findings(lacks []string) []Group {
	house := t.house(lacks).Members()
	var open, expected []Group
	for _, leaves := range t.Alike(lacks) {
		g := Group{Materials: leaves, Within: within(leaves)}
		for k, a := range leaves {
			for _, b := range leaves[k+1:] {
				if near := t.nearest(a, b, house); near.Ratio > g.Nearest.Ratio {
					g.Nearest = near
				}
			}
		}
		g.Signs = t.signsOf(leaves, house)
		g.Reasons = t.reasons(&g)
		if g.Expected() {
			expected = append(expected, g)
		} else {
			open = append(open, g)
		}
	}
	return append(open, expected...)
}

// Says tells all that there is to tell of a group.
func (g *Group) Says() string { return phrase.Sentences(g.Reasons) }

func (t *Table) reasons(g *Group) []phrase.Reason {
	out := []phrase.Reason{{Code: phrase.PairAlike, Node: g.Materials[0], Other: g.Materials[1]}}
	if len(g.Materials) > 2 {
		out[0] = phrase.Reason{Code: phrase.GroupAlike, Nodes: g.Materials}
	}
	if g.Expected() {
		out = append(out, phrase.Reason{Code: phrase.NameTogether, Node: g.Within})
	}
	out = append(out, g.Nearest.reason(t.rs.Policy.Rival, len(g.Materials)))
	if len(g.Signs) > 0 {
		out = append(out, phrase.Reason{Code: phrase.Sometimes, Count: len(g.Materials) - 1,
			Text: strings.Join(Phrases(t.rs, g.Signs), ", ")})
	}
	return out
}

// reason tells which test comes nearest to a separation of so many materials.
func (n *Near) reason(rival float64, of int) phrase.Reason {
	if n.Test == nil {
		return phrase.Reason{Code: phrase.NearestNone}
	}
	r := phrase.Reason{Code: phrase.NearestPair, Tests: []*kb.Test{n.Test}, Node: n.Of, Other: n.From,
		Ratio: below(n.Ratio, rival), Needed: rival}
	if of > 2 {
		r.Code = phrase.NearestOfTwo
	}
	return r
}

// below keeps a ratio that is not enough from being rounded up to what is.
func below(ratio, rival float64) float64 {
	if phrase.Figures(ratio) == phrase.Figures(rival) {
		return rival * 0.999
	}
	return ratio
}
