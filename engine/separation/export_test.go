package separation

import "whystone/kb"

// What tests ask a table by itself, where the program asks for a report.

// Pairs is how many pairs they make.
func (g *Group) Pairs() int { return len(g.Materials) * (len(g.Materials) - 1) / 2 }

// Tests lists the tests that a house with every instrument has, by id: harmless, possible on the stone and not forbidden.
func (t *Table) Tests() []*kb.Test { return t.list(t.usable) }

// By lists the harmless tests that tell two leaves apart, either from the other, by id, those too that a rule forbids. No
// test tells a leaf from itself.
func (t *Table) By(a, b *kb.Material) []*kb.Test {
	if a == b {
		return nil
	}
	return t.list(t.told[t.pair(a.Index, b.Index)])
}

// Nearest finds the test of the house that comes nearest to telling two leaves apart; of several alike the first by id.
func (t *Table) Nearest(a, b *kb.Material, lacks []string) Near {
	return t.nearest(a, b, t.house(lacks).Members())
}

func (t *Table) NowAndThen(leaves []*kb.Material, lacks []string) []Sign {
	return t.nowAndThen(leaves, t.house(lacks).Members())
}
