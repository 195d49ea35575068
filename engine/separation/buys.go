package separation

import (
	"cmp"
	"slices"

	"whystone/kb"
)

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

// Bought is the pairs that hang on one test alone.
type Bought struct {
	Test  string      `json:"test"`
	Count int         `json:"count"`
	Pairs [][2]string `json:"pairs"` // those that are not expected first, then by id
	// Expected is how many of them a verdict may name by one group, so that nobody needs to tell them apart.
	Expected int `json:"expected"`
}

// Hangs lists for each test what hangs on it alone, most pairs first, then by id: what those that the house lacks would
// buy, each by itself, and what the house would lose with each of its own. A pair that two lacked tests would part is
// counted with both. Ids that are of no test that counts are left out.
func (t *Table) Hangs(lacks []string) (buys, loses []Bought) {
	lacked, house := t.lacked(lacks), t.house(lacks)
	open, expected := make([][][2]string, len(t.rs.Tests)), make([][][2]string, len(t.rs.Tests))
	t.eachPair(func(a, b int, told tests) {
		on := told.Both(house)
		switch len(on) {
		case 0:
			on = told.Both(lacked)
		case 1:
		default:
			return
		}
		one, other := t.rs.Leaves[a], t.rs.Leaves[b]
		pairs := open
		if len(on) > 0 && within([]*kb.Material{one, other}) != nil {
			pairs = expected
		}
		for _, i := range on {
			pairs[i] = append(pairs[i], [2]string{one.ID, other.ID})
		}
	})
	buys, loses = []Bought{}, []Bought{}
	for _, i := range t.usable.Members() {
		x := Bought{Test: t.rs.Tests[i].ID, Count: len(open[i]) + len(expected[i]), Expected: len(expected[i]),
			Pairs: append([][2]string{}, slices.Concat(open[i], expected[i])...)}
		switch {
		case lacked.Has(i):
			buys = append(buys, x)
		case x.Count > 0:
			loses = append(loses, x)
		}
	}
	for _, list := range [][]Bought{buys, loses} {
		slices.SortStableFunc(list, func(x, y Bought) int { return cmp.Compare(y.Count, x.Count) })
	}
	return buys, loses
}
