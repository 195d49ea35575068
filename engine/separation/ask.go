package separation

import (
	"whystone/kb"
	"whystone/kb/english"
)

// By lists the harmless tests that tell two leaves apart, either from the other, by id, those too that a rule forbids.
// No test tells a leaf from itself.
func (t *Table) By(a, b *kb.Material) []*kb.Test {
	if a == b {
		return nil
	}
	return t.list(t.told[t.pair(a.Index, b.Index)])
}

// Signs is signsOf by what a house lacks.
func (t *Table) Signs(leaves []*kb.Material, lacks []string) []Seen {
	return t.signsOf(leaves, t.house(lacks).Members())
}

func (t *Table) list(s tests) []*kb.Test {
	return english.Each(s.Members(), func(i int) *kb.Test { return t.rs.Tests[i] })
}
