package separation

import (
	"fmt"
	"slices"
	"strings"

	"whystone/engine"
	"whystone/engine/answers/wording"
	"whystone/kb"
)

// Alike lists groups of leaves that no harmless test of the house tells apart, the house being all tests but those that
// it lacks. Being alike is not handed on: A may be like B, and B like C, where a test tells A from C. So every two leaves
// of a group are alike, no leaf could be added to it, and every pair that is alike lies together in at least one group. The
// first pair by id that lies in no group yet starts one, and takes in every other leaf, by id, that is like all in it.
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
	// Signs is what parts some of them now and then.
	Signs []Sign
	// Says tells all this in a sentence or three.
	Says string
}

// Expected tells whether nobody needs to tell them apart: a verdict may name a group that holds them all.
func (g *Group) Expected() bool { return g.Within != nil }

// Pairs is how many pairs they make.
func (g *Group) Pairs() int { return len(g.Materials) * (len(g.Materials) - 1) / 2 }

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
		g.Signs = t.nowAndThen(leaves, house)
		g.Says = t.says(&g)
		if g.Expected() {
			expected = append(expected, g)
		} else {
			open = append(open, g)
		}
	}
	return append(open, expected...)
}

func (t *Table) says(g *Group) string {
	says := fmt.Sprintf("No harmless test of the house tells %s from %s by itself.", wording.Node(g.Materials[0]), wording.Node(g.Materials[1]))
	if len(g.Materials) > 2 {
		says = fmt.Sprintf("No harmless test of the house tells any two of these apart by itself: %s.", wording.Nodes(g.Materials, "and"))
	}
	if g.Expected() {
		says += fmt.Sprintf(" A verdict may name them together: %s.", wording.Full(g.Within))
	}
	says += " " + g.Nearest.says(t.rs.Policy.Rival, len(g.Materials) > 2)
	if len(g.Signs) > 0 {
		of := "them"
		if len(g.Materials) > 2 {
			of = "some of them"
		}
		says += fmt.Sprintf(" Now and then a reading parts %s: %s.", of, strings.Join(Phrases(t.rs, g.seen()), ", "))
	}
	return says
}

func (n *Near) says(rival float64, several bool) string {
	if n.Test == nil {
		return "What a test usually gives favours none of them."
	}
	of := ""
	if several {
		of = " of two of them"
	}
	on := wording.Node(n.Of)
	return fmt.Sprintf("Nearest to a separation%s comes the test %q: what it usually reads on %s is %s times likelier on %s than on %s; %s times are needed.",
		of, n.Test.Name, on, engine.Figures(below(n.Ratio, rival)), on, wording.Node(n.From), engine.Figures(rival))
}

// below keeps a ratio that is not enough from being rounded up to what is.
func below(ratio, rival float64) float64 {
	if engine.Figures(ratio) == engine.Figures(rival) {
		return rival * 0.999
	}
	return ratio
}
