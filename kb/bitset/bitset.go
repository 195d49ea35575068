// Package bitset has sets of small numbers: the indexes of outcomes, tests, leaves, slots and rows.
package bitset

import "math/bits"

// Fixed is a set of numbers below 64 times the words it is made of. It is copied and compared like a number.
type Fixed[W [2]uint64 | [4]uint64] struct{ Words W }

// Add puts i into the set.
func (s *Fixed[W]) Add(i int) { s.Words[i/64] |= 1 << (i % 64) }

// Has tells whether i is in the set.
func (s *Fixed[W]) Has(i int) bool { return s.Words[i/64]>>(i%64)&1 == 1 }

// Union adds all of o.
func (s *Fixed[W]) Union(o Fixed[W]) {
	for i := range len(s.Words) {
		s.Words[i] |= o.Words[i]
	}
}

// Intersect keeps what is in o too.
func (s *Fixed[W]) Intersect(o Fixed[W]) {
	for i := range len(s.Words) {
		s.Words[i] &= o.Words[i]
	}
}

// Minus takes o away.
func (s *Fixed[W]) Minus(o Fixed[W]) {
	for i := range len(s.Words) {
		s.Words[i] &^= o.Words[i]
	}
}

// Meets tells whether something is in both.
func (s *Fixed[W]) Meets(o Fixed[W]) bool {
	for i := range len(s.Words) {
		if s.Words[i]&o.Words[i] != 0 {
			return true
		}
	}
	return false
}

// Empty tells whether nothing is in it.
func (s *Fixed[W]) Empty() bool { return *s == Fixed[W]{} }

// Both lists what is in both, in rising order.
func (s Fixed[W]) Both(o Fixed[W]) (out []int) {
	for i := range len(s.Words) {
		out = appendMembers(out, i, s.Words[i]&o.Words[i])
	}
	return out
}

// Members lists the numbers in rising order.
func (s Fixed[W]) Members() []int { return s.Both(s) }

func appendMembers(out []int, word int, w uint64) []int {
	for ; w != 0; w &= w - 1 {
		out = append(out, word*64+bits.TrailingZeros64(w))
	}
	return out
}

// Set is a set without a bound. The zero value is empty. A copy shares what is in it: clone it as a slice.
type Set []uint64

// New makes an empty set with room for the numbers below n. Two that were made with one n, and hold no others, are
// equal as slices when they hold the same.
func New(n int) Set { return make(Set, (n+63)/64) }

// grow makes room for so many words.
func (s *Set) grow(words int) {
	for len(*s) < words {
		*s = append(*s, 0)
	}
}

// Add puts i into the set.
func (s *Set) Add(i int) {
	s.grow(i/64 + 1)
	(*s)[i/64] |= 1 << (i % 64)
}

// Turn puts i into the set if it is not there, and takes it out if it is.
func (s *Set) Turn(i int) {
	s.grow(i/64 + 1)
	(*s)[i/64] ^= 1 << (i % 64)
}

// Union adds all of o.
func (s *Set) Union(o Set) {
	s.grow(len(o))
	for i, w := range o {
		(*s)[i] |= w
	}
}

// Within tells whether all of s is in o.
func (s Set) Within(o Set) bool {
	for i, w := range s {
		if i < len(o) {
			w &^= o[i]
		}
		if w != 0 {
			return false
		}
	}
	return true
}

// Meets tells whether something is in both.
func (s Set) Meets(o Set) bool {
	for i := range min(len(s), len(o)) {
		if s[i]&o[i] != 0 {
			return true
		}
	}
	return false
}

// Both lists what is in both, in rising order.
func (s Set) Both(o Set) (out []int) {
	for i := range min(len(s), len(o)) {
		out = appendMembers(out, i, s[i]&o[i])
	}
	return out
}

// Members lists the numbers in rising order.
func (s Set) Members() []int { return s.Both(s) }
