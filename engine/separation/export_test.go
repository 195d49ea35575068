package separation

import "whystone/kb"

// What tests ask a table by itself, where the program asks for a report.

// Pairs is how many pairs they make.
func (g *Group) Pairs() int { return len(g.Materials) * (len(g.Materials) - 1) / 2 }

// Tests lists the tests that a house with every instrument has, by id: harmless, possible on the stone and not forbidden.
func (t *Table) Tests() []*kb.Test { return t.list(t.usable) }

// Nearest finds the test of the house that comes nearest to telling two leaves apart; of several alike the first by id.
func (t *Table) Nearest(a, b *kb.Material, lacks []string) Near {
	return t.nearest(a, b, t.house(lacks).Members())
}
