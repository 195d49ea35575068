package sat

import (
	"math"
	"slices"
	"time"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/english"
	"whystone/kb/vocab"
)

type kind uint8

const (
	quantity kind = iota // an interval
	number               // a number without uncertainty
	choice
	features
	truth
	text
	opaque // a leaf outside the fragment: it may hold, fail or be undecided, whatever the rest is
)

// dim is one thing of a case that literals look at.
type dim struct {
	kind   kind
	slot   int // in the scope; -1: the date, or a leaf outside the fragment
	states status
	truths truths
	reach  [2]float64 // quantity: what can be read at all; number: what can be
	span   [2]float64 // quantity: what can occur
	open   bool       // number: the lower end of reach can't be
	exact  bool       // quantity: a test claims to have no uncertainty
	plain  uint64     // choice: those that cover no others
	name   string
}

// Space is what can be read and said of a case under one ruleset. It is not safe for concurrent use.
type Space struct {
	rs      *kb.Ruleset
	dims    []*dim
	bySlot  map[int]int
	byKey   map[string]int // of leaves outside the fragment
	date    int
	setters map[int][]*kb.Rule // active rules that may set an observable aside, by slot
	fires   map[*kb.Rule]*Formula
	fails   map[*kb.Rule]*Formula
	left    int         // literals that searches may still look at
	stop    func() bool // nil: they go on to their end
}

// NewSpace makes the space of a ruleset.
func NewSpace(rs *kb.Ruleset) *Space {
	s := &Space{rs: rs, bySlot: map[int]int{}, byKey: map[string]int{}, setters: rs.SettersAside(),
		fires: map[*kb.Rule]*Formula{}, fails: map[*kb.Rule]*Formula{}, left: math.MaxInt}
	s.date = s.add(&dim{kind: number, slot: -1, states: there, reach: [2]float64{math.Inf(-1), math.Inf(1)},
		name: "taken"})
	return s
}

func (s *Space) add(d *dim) int {
	s.dims = append(s.dims, d)
	return len(s.dims) - 1
}

// dim is that of a slot of the scope.
func (s *Space) dim(slot int) int {
	if i, ok := s.bySlot[slot]; ok {
		return i
	}
	sym := s.rs.Scope.At(slot)
	d := &dim{slot: slot, name: sym.Name, states: missing | there}
	if sym.Observable != nil {
		d.states = anyState
	}
	switch sym.Kind {
	case vocab.Quantity:
		everything := [2]float64{math.Inf(-1), math.Inf(1)}
		d.kind, d.reach, d.span = quantity, everything, everything
		if sym.Exact {
			// a weight or a length is above zero
			d.kind, d.reach, d.open = number, [2]float64{0, math.Inf(1)}, sym.Name != "stake"
		}
		if sym.Observable != nil {
			d.reach, d.span = s.reach(sym.Observable), sym.Observable.Span
			d.exact = slices.ContainsFunc(s.sources(sym.Observable), func(s source) bool { return s.u == 0 })
		}
	case vocab.Choice:
		d.kind = choice
		for i := range sym.Observable.Outcomes {
			d.plain |= sym.Observable.Meaning(i)
		}
	case vocab.Features:
		d.kind = features
	case vocab.Truth:
		d.kind, d.truths = truth, yes|no
	case vocab.Text:
		d.kind = text
	}
	s.bySlot[slot] = s.add(d)
	return s.bySlot[slot]
}

// reach is what the tests of an observable, and the house's instruments for them, can read of it together.
func (s *Space) reach(o *vocab.Observable) [2]float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, y := range s.rs.Vocabulary.Yields {
		if y.Observable != o {
			continue
		}
		lo, hi = min(lo, y.Limits[0]), max(hi, y.Limits[1])
		for _, in := range s.rs.Vocabulary.Instruments {
			if in.Test == y.Test && in.Limits != nil && (in.Observable == "" || in.Observable == o.Name) {
				lo, hi = min(lo, in.Limits[0]), max(hi, in.Limits[1])
			}
		}
	}
	if lo > hi {
		return o.Span
	}
	return [2]float64{max(lo, o.Span[0]), min(hi, o.Span[1])}
}

// outsider is the dimension of a leaf outside the fragment.
func (s *Space) outsider(l *condition.Leaf) int {
	key, can := l.Key(), yes|no|undecided
	if l.Kind == condition.Seen { // never undecided, and not always compiled
		key, can = "seen "+s.rs.Scope.At(l.Slot).Name, yes|no
	}
	i, ok := s.byKey[key]
	if !ok {
		i = s.add(&dim{kind: opaque, slot: -1, states: there, truths: can, name: key})
		s.byKey[key] = i
	}
	return i
}

// Fires is when a rule fires: it is in force, its "if" holds, and its "unless" fails.
func (s *Space) Fires(r *kb.Rule) *Formula {
	f := s.fires[r]
	if f == nil {
		f = And(s.InForce(r), s.either(r.If, true, true), s.either(r.Unless, false, true))
		s.fires[r] = f
	}
	return f
}

// Fails is when a rule fails: it is not in force, its "if" fails, or its "unless" holds.
func (s *Space) Fails(r *kb.Rule) *Formula {
	f := s.fails[r]
	if f == nil {
		f = Or(Not(s.InForce(r)), s.either(r.If, false, false), s.either(r.Unless, true, false))
		s.fails[r] = f
	}
	return f
}

// either is when a condition holds or fails; otherwise when there is none.
func (s *Space) either(c *condition.Condition, holds, otherwise bool) *Formula {
	switch {
	case c != nil && holds:
		return s.Holds(c.Root)
	case c != nil:
		return s.FailsAt(c.Root)
	case otherwise:
		return True
	}
	return False
}

// InForce is when a rule is in force: its dates take in the day, and those of no rule that stands in for it do.
func (s *Space) InForce(r *kb.Rule) *Formula {
	out := s.dated(r)
	if a := r.Away; a != nil {
		out = And(out, Not(s.period(a.Since, a.Until)))
	}
	for over := r.ReplacedBy; over != nil; over = over.ReplacedBy {
		out = And(out, Not(s.dated(over)))
	}
	return out
}

// dated is when a rule's own dates take in the day.
func (s *Space) dated(r *kb.Rule) *Formula {
	since := r.Since
	if r.Status == kb.Draft { // it is tried before it begins
		since = time.Time{}
	}
	return s.period(since, r.Until)
}

// period is when the day lies from one date up to another; zero ones are no bounds.
func (s *Space) period(since, until time.Time) *Formula {
	out := True
	if !since.IsZero() {
		out = And(out, lit(literal{dim: s.date, ask: loAtLeast, cut: seconds(since)}))
	}
	if !until.IsZero() {
		out = And(out, lit(literal{dim: s.date, ask: hiBelow, cut: seconds(until)}))
	}
	return out
}

func seconds(t time.Time) float64 { return float64(t.Unix()) }

// Holds is when a part of a condition holds.
func (s *Space) Holds(n *condition.Node) *Formula { return s.translate(n, true) }

// FailsAt is when a part of a condition fails.
func (s *Space) FailsAt(n *condition.Node) *Formula { return s.translate(n, false) }

func (s *Space) translate(n *condition.Node, holds bool) *Formula {
	switch n.Op {
	case condition.Always:
		if n.Value == holds {
			return True
		}
		return False
	case condition.Not:
		return s.translate(n.Kids[0], !holds)
	case condition.Leafed:
		return s.leaf(n.Leaf, holds)
	}
	kids := english.Each(n.Kids, func(k *condition.Node) *Formula { return s.translate(k, holds) })
	if (n.Op == condition.And) == holds {
		return And(kids...)
	}
	return Or(kids...)
}
