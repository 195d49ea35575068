package eval

import (
	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/vocab"
)

// leaf brings the truths of a leaf up to date whose slot changes while the rules run, or which looks at more than its
// value.
func (b *Block) leaf(l *condition.Leaf, t *condition.Truths, facts map[int]*condition.Truths) {
	if l.Arith != nil {
		b.arithmetic(l, t)
		return
	}
	s := &b.slots[l.Slot]
	switch {
	case l.Kind == condition.Seen:
		sides(t, &s.ready)
	case l.Kind == condition.Unclear:
		sides(t, &s.unclear)
	case !b.rs.Scope.At(l.Slot).Fact:
		t.Holds.And(&s.ready) // they were put in, and what was set aside since says nothing
		t.Fails.And(&s.ready)
	case b.facts[l.Slot] != nil:
		for word := range b.facts[l.Slot] {
			to := &t.Fails
			if l.Mask>>word&1 == 1 {
				to = &t.Holds
			}
			to.Or(&b.facts[l.Slot][word])
		}
		t.Holds.And(&s.ready)
		t.Fails.And(&s.ready)
	case l.Kind == condition.True:
		*t = *b.fact(l.Slot, facts)
	}
}

// sides makes a leaf hold in some lanes, and fail in all others.
func sides(t *condition.Truths, holds *condition.Plane) {
	t.Holds = *holds
	for w := range t.Fails {
		t.Fails[w] = ^holds[w]
	}
}

// fact is what the lanes of a fact are that is a truth: none holds until a rule says so.
func (b *Block) fact(slot int, facts map[int]*condition.Truths) *condition.Truths {
	t := facts[slot]
	if t == nil {
		t = &condition.Truths{}
		sides(t, &condition.Plane{})
		facts[slot] = t
	}
	return t
}

// arithmetic does a leaf lane by lane, where all is there that it needs.
func (b *Block) arithmetic(l *condition.Leaf, t *condition.Truths) {
	lanes := condition.Plane{}
	for w := range lanes {
		lanes[w] = ^uint64(0)
	}
	for _, slot := range l.Slots() {
		lanes.And(&b.slots[slot].ready)
	}
	lanes.Each(func(lane int) {
		if lane >= b.n || b.odd.Has(lane) {
			return
		}
		if b.filled != lane {
			b.run.fill(b.cases[lane])
			b.filled = lane
		}
		is, err := b.run.State.Leaf(l)
		if err != nil {
			b.odd.Set(lane)
		}
		t.Put(lane, is)
	})
}

// follow does what other rules can see of a rule's truth.
func (b *Block) follow(r *kb.Rule, t *condition.Truths, facts map[int]*condition.Truths) {
	for _, o := range r.SetsAside {
		b.setAside(o, &t.Holds)
	}
	for i := range r.Establishes {
		switch e := &r.Establishes[i]; e.Fact.Kind {
		case vocab.Truth:
			f := b.fact(e.Fact.Slot, facts)
			f.Holds.Or(&t.Holds)
			f.Fails.And(&t.Fails)
		case vocab.Choice:
			b.establish(e, t.Holds)
		default:
			b.odd.Or(&t.Holds)
		}
	}
}

func (b *Block) setAside(o *vocab.Observable, holds *condition.Plane) {
	s := &b.slots[o.Index]
	lanes := *holds
	lanes.And(&s.present)
	s.ready.Less(&lanes)
	s.unclear.Or(&lanes)
	d := b.rs.Vocabulary.Observable(vocab.Birefringence)
	if o.Name != vocab.RefractiveIndex || d == nil {
		return
	}
	of := &b.slots[d.Index]
	lanes.And(&b.rays)
	lanes.And(&of.ready)
	of.ready.Less(&lanes)
	of.unclear.Or(&lanes)
}

// establish gives a fact that is a choice its word; where it has another one already, rules disagree.
func (b *Block) establish(e *kb.Establishes, lanes condition.Plane) {
	s, words := &b.slots[e.Fact.Slot], b.facts[e.Fact.Slot]
	lanes.Less(&s.unclear)
	clash := lanes
	clash.And(&s.ready)
	clash.Less(&words[e.Word])
	lanes.Less(&clash)
	words[e.Word].Or(&lanes)
	s.ready.Or(&lanes)
	s.present.Or(&lanes)
	s.ready.Less(&clash)
	s.unclear.Or(&clash)
}
