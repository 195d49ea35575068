package separation

import (
	"whystone/kb"
	"whystone/kb/english"
)

func (t *Table) list(s tests) []*kb.Test {
	return english.Each(s.Members(), func(i int) *kb.Test { return t.rs.Tests[i] })
}

// Tests lists the tests that a house with every instrument has, by id: harmless, possible on the stone and not
// forbidden.
func (t *Table) Tests() []*kb.Test { return t.list(t.usable) }

// By lists the harmless tests that tell two leaves apart, either from the other, by id, those too that a rule forbids.
// No test tells a leaf from itself.
func (t *Table) By(a, b *kb.Material) []*kb.Test {
	if a == b {
		return nil
	}
	return t.list(t.told[t.pair(a.Index, b.Index)])
}

// Nearest is nearest by what a house lacks.
func (t *Table) Nearest(a, b *kb.Material, lacks []string) Near {
	if a == b {
		return Near{}
	}
	return t.nearest(a, b, t.house(lacks).Members())
}

// Signs is signsOf by what a house lacks.
func (t *Table) Signs(leaves []*kb.Material, lacks []string) []Seen {
	return t.signsOf(leaves, t.house(lacks).Members())
}
