package load

import (
	"strings"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/doc"
	"whystone/kb/vocab"
)

// buildDerived reads what the sheets derive from the stone. Its expressions may name the stone only.
func buildDerived(b *vocabBuilder, scope *condition.Scope) {
	for _, t := range b.tests {
		s := b.sheets[t.ID]
		for _, y := range t.Yields {
			for _, it := range s.list(s.Get("yields").Get(y.Observable.Name).Get("derived")) {
				if d, ok := s.derived(it, y.Observable, scope); ok {
					t.Derived = append(t.Derived, d)
				}
			}
		}
	}
}

func (s *sheet) derived(n *doc.Node, o *vocab.Observable, scope *condition.Scope) (kb.Derived, bool) {
	if !n.Keys(s.out, "if", "is", "relative", "says", "source") {
		return kb.Derived{}, false
	}
	d := kb.Derived{Observable: o, Relative: s.within(n, "relative", 0, 0, 1), Says: s.needText(n, "says"), Source: s.needText(n, "source")}
	for _, key := range []string{"is", "relative"} {
		if n.Get(key).IsNull() {
			s.errorf("missing-key", n, "what is derived says %q", key)
			return d, false
		}
	}
	if c := n.Get("if"); !c.IsNull() {
		if d.If = s.condition(c, scope); d.If == nil || !s.aboutStone(c, d.If, scope) {
			return d, false
		}
	}
	var reads *condition.Condition
	d.Is, reads = s.quantity(n.Get("is"), scope)
	return d, d.Is != nil && s.aboutStone(n.Get("is"), reads, scope)
}

// aboutStone refuses a condition that names anything but the stone.
func (s *sheet) aboutStone(n *doc.Node, c *condition.Condition, scope *condition.Scope) bool {
	for _, slot := range c.Reads {
		if name := scope.At(slot).Name; !strings.HasPrefix(name, "stone.") {
			s.errorf("not-allowed", n, "only the stone may be named here; %s is not of it", name)
			return false
		}
	}
	return true
}
