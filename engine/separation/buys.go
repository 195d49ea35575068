package separation

import (
	"cmp"
	"slices"

	"whystone/kb"
)

// Pair is two leaves, by id.
type Pair struct {
	A, B *kb.Material
	// Within is the lowest nameable group that holds both, or nil.
	Within *kb.Material
}

// Expected tells whether nobody needs to tell them apart: a verdict may name a group that holds both.
func (p Pair) Expected() bool { return p.Within != nil }

func (t *Table) pairOf(a, b int) Pair {
	p := Pair{A: t.rs.Leaves[a], B: t.rs.Leaves[b]}
	p.Within = within([]*kb.Material{p.A, p.B})
	return p
}

// within is the lowest nameable group that holds all of some leaves, or nil.
func within(leaves []*kb.Material) *kb.Material {
	for g := leaves[0].NameableAbove(); g != nil; g = g.NameableAbove() {
		if !slices.ContainsFunc(leaves, func(m *kb.Material) bool { return !m.Under(g) }) {
			return g
		}
	}
	return nil
}

// eachPair calls f with every pair of leaves and the tests that tell them apart, in order of their indexes.
func (t *Table) eachPair(f func(a, b int, told tests)) {
	at := 0
	for a := range t.rs.Leaves {
		for b := a + 1; b < len(t.rs.Leaves); b++ {
			f(a, b, t.told[at])
			at++
		}
	}
}

// Buy is a test and the pairs that hang on it alone.
type Buy struct {
	Test *kb.Test
	// Lacked tells that the house has no instrument for it: the pairs are those that it would newly tell apart. Of a
	// test in the house they are those that would be alike without it.
	Lacked bool
	Pairs  []Pair // those that are not expected first, then by id
}

// Buys lists for each test what hangs on it alone: first those that the house lacks, each bought by itself, then those
// of the house; of either, most pairs first, then by id. A pair that two lacked tests would part is counted with both.
// Ids that are of no test that counts are left out.
func (t *Table) Buys(lacks []string) []Buy {
	lacked := t.lacked(lacks)
	house := t.house(lacks)
	pairs := make([][]Pair, len(t.rs.Tests))
	t.eachPair(func(a, b int, told tests) {
		buyers := told.Both(house)
		switch len(buyers) {
		case 0:
			buyers = told.Both(lacked)
		case 1:
		default:
			return
		}
		for _, i := range buyers {
			pairs[i] = append(pairs[i], t.pairOf(a, b))
		}
	})
	var out []Buy
	for _, i := range t.usable.Members() {
		slices.SortStableFunc(pairs[i], func(x, y Pair) int { return order(!x.Expected(), !y.Expected()) })
		out = append(out, Buy{Test: t.rs.Tests[i], Lacked: lacked.Has(i), Pairs: pairs[i]})
	}
	slices.SortStableFunc(out, func(x, y Buy) int {
		return cmp.Or(order(x.Lacked, y.Lacked), cmp.Compare(len(y.Pairs), len(x.Pairs)))
	})
	return out
}

// order puts what holds before what does not.
func order(x, y bool) int {
	switch {
	case x == y:
		return 0
	case x:
		return -1
	}
	return 1
}
