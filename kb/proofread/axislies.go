package proofread

import (
	"whystone/kb/condition"
	"whystone/kb/sat"
	"whystone/kb/vocab"
)

// lies is true of a case whose reading lies at one of some places.
func (x *axis) lies(at spans) *sat.Formula {
	slot := x.column.Slot
	ask := func(l condition.Leaf, holds bool) *sat.Formula {
		l.Slot = slot
		n := &condition.Node{Op: condition.Leafed, Leaf: &l}
		if holds {
			return x.space.Holds(n)
		}
		return x.space.FailsAt(n)
	}
	if slot < 0 {
		return sat.True
	}
	if x.opaque {
		return x.space.Told(slot)
	}
	var ways []*sat.Formula
	switch x.column.Kind {
	case vocab.Quantity:
		for _, s := range at {
			ways = append(ways, sat.And(x.space.Told(slot), x.between(s, ask)))
		}
	case vocab.Choice:
		var mask uint64
		for _, i := range at.members() {
			mask |= 1 << i
		}
		return ask(condition.Leaf{Kind: condition.Within, Mask: mask}, true)
	case vocab.Truth:
		for _, i := range at.members() {
			ways = append(ways, ask(condition.Leaf{Kind: condition.True}, i == 1))
		}
	case vocab.Features:
		if len(x.named) == 0 {
			return sat.True
		}
		for _, i := range at.members() {
			alone := sat.True
			for j, f := range x.named {
				shows := ask(condition.Leaf{Kind: condition.Contains, Feature: f}, true)
				if j != i {
					shows = sat.Not(shows)
				}
				alone = sat.And(alone, shows)
			}
			ways = append(ways, alone)
		}
	case vocab.Text:
		if len(x.words) == 0 {
			return sat.True
		}
		return ask(condition.Leaf{Kind: condition.Matches, Words: x.wordsAt(at)}, true)
	}
	return sat.Or(ways...)
}

// between is true of a quantity at a run of places. What is measured has some width, and never lies at a bound: that no
// row takes 2.7 itself, where one ends below and one begins above it, is no gap. A weight or a stake is a number by
// itself.
func (x *axis) between(s span, ask func(condition.Leaf, bool) *sat.Formula) *sat.Formula {
	out := sat.True
	exact := x.column.Exact
	if s.from > 0 {
		cut, at := x.place(s.from)
		out = sat.And(out, ask(condition.Leaf{Kind: kindOf(!at || !exact), Cut: cut}, false))
	}
	if s.to < x.size {
		cut, at := x.place(s.to - 1)
		if !at {
			cut, _ = x.place(s.to)
		}
		out = sat.And(out, ask(condition.Leaf{Kind: kindOf(at && exact), Cut: cut}, true))
	}
	return out
}

func kindOf(atMost bool) condition.LeafKind {
	if atMost {
		return condition.AtMost
	}
	return condition.Below
}

// place is the number at a place, or else the one just before it; there is none before the first.
func (x *axis) place(i int) (cut float64, at bool) {
	if i == 0 {
		return 0, false
	}
	return x.places[(i-1)/2], i%2 == 1
}
