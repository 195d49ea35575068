package proofread

import (
	"slices"

	"whystone/kb"
	"whystone/kb/bitset"
	"whystone/kb/condition"
	"whystone/kb/vocab"
)

// looks is what rules' firing may depend on and what it can't do without, by slot of the scope: a cheap question before
// a dear one. Two parts that look at nothing in common have nothing to do with each other; and a rule that needs what
// another doesn't look at does not fire wherever that does.
type looks struct {
	rs      *kb.Ruleset
	setters map[int][]*kb.Rule
	at      map[*kb.Rule]bitset.Set
	needs   map[*kb.Rule]bitset.Set
}

func newLooks(rs *kb.Ruleset) *looks {
	return &looks{rs: rs, setters: rs.SettersAside(), at: map[*kb.Rule]bitset.Set{}, needs: map[*kb.Rule]bitset.Set{}}
}

// rule is all that a rule's firing may depend on.
func (l *looks) rule(r *kb.Rule) bitset.Set {
	out, ok := l.at[r]
	if !ok {
		for _, c := range []*condition.Condition{r.If, r.Unless} {
			if c != nil {
				out.Union(l.part(c.Root))
			}
		}
		l.at[r] = out
	}
	return out
}

// part is all that a part of a condition may depend on.
func (l *looks) part(n *condition.Node) (out bitset.Set) {
	for _, leaf := range n.Leaves() {
		for _, slot := range leaf.Leaf.Slots() {
			out.Union(l.slot(slot))
		}
	}
	return out
}

func (l *looks) slot(slot int) (out bitset.Set) {
	out.Add(slot)
	if f := l.fact(slot); f != nil {
		for _, r := range f.By {
			out.Union(l.rule(r))
		}
	}
	for _, r := range l.setters[slot] {
		out.Union(l.rule(r))
	}
	return out
}

func (l *looks) fact(slot int) *kb.Fact {
	if s := l.rs.Scope.At(slot); s.Fact {
		return l.rs.Fact(s.Name)
	}
	return nil
}

// neededBy is what must be there for a rule to fire.
func (l *looks) neededBy(r *kb.Rule) bitset.Set {
	out, ok := l.needs[r]
	if !ok {
		if r.If != nil {
			out.Union(l.needed(r.If.Root, true))
		}
		if r.Unless != nil {
			out.Union(l.needed(r.Unless.Root, false))
		}
		l.needs[r] = out
	}
	return out
}

// needed is what must be there for a part to hold, or to fail.
func (l *looks) needed(n *condition.Node, holds bool) (out bitset.Set) {
	switch n.Op {
	case condition.Not:
		return l.needed(n.Kids[0], !holds)
	case condition.Leafed:
		return l.neededAt(n.Leaf, holds)
	case condition.And, condition.Or:
		for i, k := range n.Kids {
			of := l.needed(k, holds)
			if i == 0 || (n.Op == condition.And) == holds {
				out.Union(of)
				continue
			}
			out = out[:min(len(out), len(of))]
			for w := range out {
				out[w] &= of[w]
			}
		}
	}
	return out
}

func (l *looks) neededAt(leaf *condition.Leaf, holds bool) (out bitset.Set) {
	for _, slot := range leaf.Slots() {
		f := l.fact(slot)
		switch {
		case f != nil && f.Kind == vocab.Truth && holds && len(f.By) == 1:
			out.Union(l.neededBy(f.By[0]))
		case f != nil:
		case leaf.Kind == condition.Seen || leaf.Kind == condition.Unclear:
			if holds {
				out.Add(slot)
			}
		default:
			out.Add(slot)
		}
	}
	return out
}

// unmade tells whether a fact that nobody establishes is among what is read; that is told by itself.
func (l *looks) unmade(slots []int) bool {
	return slices.ContainsFunc(slots, func(slot int) bool {
		f := l.fact(slot)
		return f != nil && len(f.By) == 0
	})
}
