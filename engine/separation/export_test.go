package separation

import "whystone/kb"

// Tests lists the tests that a house with every instrument has, by id: harmless, possible on the stone and not
// forbidden.
func (t *Table) Tests() []*kb.Test { return t.list(t.usable) }

// Nearest is nearest by what a house lacks.
func (t *Table) Nearest(a, b *kb.Material, lacks []string) Near {
	if a == b {
		return Near{}
	}
	return t.nearest(a, b, t.house(lacks).Members())
}
