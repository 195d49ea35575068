package sat

import (
	"slices"

	"whystone/kb/condition"
	"whystone/kb/vocab"
)

// Observables lists the readings that a formula looks at, by name.
func (s *Space) Observables(f *Formula) []*vocab.Observable {
	dims := map[int]bool{}
	f.dims(dims, map[*Formula]bool{})
	return slices.DeleteFunc(slices.Clone(s.rs.Vocabulary.Observables), func(o *vocab.Observable) bool {
		d, ok := s.bySlot[o.Index]
		return !ok || !dims[d]
	})
}

// dims gathers what a formula looks at; parts that are shared are gone through once.
func (f *Formula) dims(to map[int]bool, done map[*Formula]bool) {
	if done[f] {
		return
	}
	done[f] = true
	if f.op == opLiteral {
		to[f.lit.dim] = true
	}
	for _, k := range f.kids {
		k.dims(to, done)
	}
}

// Read is true when there is a usable reading of an observable, set aside or not.
func (s *Space) Read(o *vocab.Observable) *Formula {
	return lit(literal{dim: s.dim(o.Index), ask: ready})
}

// Told is true when what stands in a slot of the scope is known: a reading or property is there, and a fact that is a
// choice is settled.
func (s *Space) Told(slot int) *Formula {
	return s.leaf(&condition.Leaf{Kind: condition.Seen, Slot: slot}, true)
}

// Within is true of a reading of a quantity that lies within a range as a whole.
func (s *Space) Within(o *vocab.Observable, low, high float64) *Formula {
	d := s.dim(o.Index)
	return And(lit(literal{dim: d, ask: loAtLeast, cut: low}), lit(literal{dim: d, ask: hiAtMost, cut: high}))
}

// Touches is true of a reading of a quantity that lies within a range in part at least.
func (s *Space) Touches(o *vocab.Observable, low, high float64) *Formula {
	d := s.dim(o.Index)
	return And(s.Read(o), lit(literal{dim: d, ask: loAbove, cut: high, not: true}),
		lit(literal{dim: d, ask: hiBelow, cut: low, not: true}))
}

// Among is true of a reading of a choice that leaves open nothing but a set of them.
func (s *Space) Among(o *vocab.Observable, mask uint64) *Formula {
	return lit(literal{dim: s.dim(o.Index), ask: inside, mask: mask})
}

// Seen is true when a feature was seen, Unseen when it was looked for in vain.
func (s *Space) Seen(o *vocab.Observable, feature int) *Formula {
	return lit(literal{dim: s.dim(o.Index), ask: seen, feature: feature})
}

// Unseen is true when a feature was looked for in vain.
func (s *Space) Unseen(o *vocab.Observable, feature int) *Formula {
	return lit(literal{dim: s.dim(o.Index), ask: unseen, feature: feature})
}
