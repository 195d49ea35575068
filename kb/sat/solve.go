package sat

import "slices"

// Answer is what a search comes to.
type Answer uint8

// The answers. Unknown: the search was given up, as there are too many combinations.
const (
	No Answer = iota
	Yes
	Unknown
)

// Mode says which readings are thought of.
type Mode bool

// AnyReading takes in uncertain, inconclusive and missing readings; Sharp those only that are one point, one choice,
// and a plain answer for every feature, beside missing and inconclusive ones.
const (
	AnyReading Mode = false
	Sharp      Mode = true
)

// Box is a conjunction of constraints, one a dimension; dimensions that it doesn't mention may be anything.
type Box struct {
	space *Space
	parts []part // sorted by dimension
}

type part struct {
	dim int
	c   constraint
}

func (b *Box) clone() *Box { return &Box{space: b.space, parts: slices.Clone(b.parts)} }

// at finds a dimension's constraint, making it if need be.
func (b *Box) at(dim int) *constraint {
	i, ok := slices.BinarySearchFunc(b.parts, dim, func(p part, d int) int { return p.dim - d })
	if !ok {
		b.parts = slices.Insert(b.parts, i, part{dim, free(b.space.dims[dim])})
	}
	return &b.parts[i].c
}

// Satisfy looks for a case of which a formula is true. The box that comes with Yes is a conjunction of which every case
// is one.
func (s *Space) Satisfy(f *Formula, mode Mode) (*Box, Answer) {
	var found *Box
	answer := s.Each(f, mode, func(b *Box) bool {
		found = b
		return false
	})
	if found != nil {
		return found, Yes
	}
	return nil, answer
}

// maxSteps bounds a search, in literals looked at: less than a second. A condition of a few hundred parts takes far
// fewer.
const maxSteps = 1 << 19

// Each calls f with boxes that make up a formula, until f returns false. They may overlap. It returns Yes if there was
// one, No if there is none, and Unknown if the search was given up before all were found.
func (s *Space) Each(of *Formula, mode Mode, f func(*Box) bool) Answer {
	r := &search{mode: mode, found: f, steps: min(maxSteps, s.left), taken: map[*Formula]bool{}, stop: s.stop}
	before := r.steps
	more := r.run(&Box{space: s}, []*Formula{of}, nil)
	s.left -= before - max(r.steps, 0)
	switch {
	case r.steps < 0 && more:
		return Unknown
	case r.any:
		return Yes
	}
	return No
}

// Bound bounds all searches of the space together, in literals looked at, and ends them when stop says so: what was not
// found by then is Unknown.
func (s *Space) Bound(literals int, stop func() bool) { s.left, s.stop = literals, stop }

type search struct {
	stop  func() bool // nil: never
	mode  Mode
	found func(*Box) bool
	steps int
	any   bool
	taken map[*Formula]bool // what was taken in on the way to where the search is: it need not be taken in again
}

// run searches within a box for what satisfies all of todo and one part of each of ors; false ends the search.
func (r *search) run(b *Box, todo, ors []*Formula) bool {
	if r.stop != nil && r.stop() {
		r.steps = -1
	}
	if r.steps < 0 {
		return true
	}
	var own []*Formula
	defer func() {
		for _, f := range own {
			delete(r.taken, f)
		}
	}()
	for {
		ok := false
		if ors, ok = r.settle(b, todo, ors, &own); !ok {
			return true
		}
		if todo, ors, ok = r.thin(b, ors); !ok {
			return true
		}
		if len(todo) == 0 {
			break
		}
	}
	if len(ors) == 0 {
		r.any = true
		return r.found(b)
	}
	at := 0
	for i, o := range ors {
		if len(o.kids) < len(ors[at].kids) {
			at = i
		}
	}
	rest := slices.Delete(slices.Clone(ors), at, at+1)
	for _, k := range ors[at].kids {
		if !r.run(b.clone(), []*Formula{k}, slices.Clone(rest)) {
			return false
		}
	}
	return true
}

// settle takes in all that must be, and gathers the disjunctions; what is new of both is appended to own.
func (r *search) settle(b *Box, todo, ors []*Formula, own *[]*Formula) ([]*Formula, bool) {
	for len(todo) > 0 {
		f := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		if r.taken[f] {
			continue
		}
		if r.taken[f.opposite] {
			return nil, false
		}
		if f.op >= opAnd {
			r.taken[f] = true
			*own = append(*own, f)
		}
		switch f.op {
		case opFalse:
			return nil, false
		case opAnd:
			todo = append(slices.Clip(todo), f.kids...)
		case opOr:
			ors = append(ors, f)
		case opLiteral:
			if !b.at(f.lit.dim).assert(b.space.dims[f.lit.dim], &f.lit, bool(r.mode)) {
				return nil, false
			}
		}
	}
	return ors, true
}

// thin drops what can't be from the disjunctions, and those that are settled; one of which a single part is left must
// be.
func (r *search) thin(b *Box, ors []*Formula) (must, left []*Formula, ok bool) {
	for _, o := range ors {
		var kids []*Formula
		settled := false
		for _, k := range o.kids {
			can, sure := r.standing(b, k)
			if sure {
				settled = true
				break
			}
			if can {
				kids = append(kids, k)
			}
		}
		switch {
		case settled:
		case len(kids) == 0:
			return nil, nil, false
		case len(kids) == 1:
			must = append(must, kids[0])
		case len(kids) == len(o.kids):
			left = append(left, o)
		default:
			left = append(left, &Formula{op: opOr, kids: kids})
		}
	}
	return must, left, true
}

// standing tells whether a formula can still be within a box, and whether it is sure to be. Of what is neither literal
// nor conjunction, and was not taken in, it knows only that it can be.
func (r *search) standing(b *Box, f *Formula) (can, sure bool) {
	switch {
	case r.taken[f]:
		return true, true
	case r.taken[f.opposite]:
		return false, false
	}
	switch f.op {
	case opTrue:
		return true, true
	case opFalse:
		return false, false
	case opLiteral:
		return r.admits(b, &f.lit, false), !r.admits(b, &f.lit, true)
	case opAnd:
		sure = true
		for _, k := range f.kids {
			can, s := r.standing(b, k)
			if !can {
				return false, false
			}
			sure = sure && s
		}
		return true, sure
	}
	return true, false
}

func (r *search) admits(b *Box, l *literal, negated bool) bool {
	r.steps--
	d := b.space.dims[l.dim]
	var c constraint
	if i, ok := slices.BinarySearchFunc(b.parts, l.dim, func(p part, d int) int { return p.dim - d }); ok {
		c = b.parts[i].c
	} else {
		c = free(d)
	}
	turned := *l
	turned.not = l.not != negated
	return c.assert(d, &turned, bool(r.mode))
}
