package engine_test

import (
	"maps"
	"math"
	"slices"
	"strings"
	"time"
)

// evidence is one contribution: what a reading, or a rule that fires, says of each leaf, and last of what is unlisted.
type evidence struct {
	name   string
	family string
	basis  string // what it rests on
	tests  set
	e      float64
	c      []float64
	out    []bool // the leaves that it excludes
	said   bool   // anything: what no sheet speaks of is no evidence
	from   []*naiveReading
	first  []*naiveReading // what its ranges go by
	silent []bool          // of which another on the same reading speaks, by leaf
	rule   *naiveRule
}

// ofUnlisted is what it says of what the ruleset lacks.
func (ev *evidence) ofUnlisted() float64 { return ev.c[len(ev.c)-1] }

// examined is a case on its way to a verdict.
type examined struct {
	*firing
	faulty bool
	list   []*evidence
	// close tells that something lay so near its threshold that the rounding of float64 may decide.
	close bool
}

const closeness = 1e-9

// above is a > b.
func (x *examined) above(a, b float64) bool {
	x.near(a, b)
	return a > b
}

func (x *examined) near(a, b float64) {
	if !math.IsInf(a, 0) && !math.IsInf(b, 0) && a != b && math.Abs(a-b) <= closeness*math.Max(math.Abs(a),
		math.Abs(b)) {
		x.close = true
	}
}

// beyond: "*More than* is meant: what lies exactly `misfit` u plus tolerance outside (within 1 in 10^9 of the larger of
// the two numbers) excludes nothing".
func (x *examined) beyond(outside, u, tolerance float64) bool {
	reach := x.misfit*u + tolerance
	if math.IsInf(outside, 0) {
		return outside > 0
	}
	slack := 1e-9 * math.Max(math.Abs(outside), reach)
	switch d := (outside - reach) / slack; {
	case d > 0.5 && d < 2:
		x.close = true
	case math.Abs(d) <= 0.5:
		x.met["exactly at the edge"] = true
	}
	return outside-reach > slack
}

// atLeast is a >= b.
func (x *examined) atLeast(a, b number) bool {
	x.mark(a, b)
	return !less(a, b)
}

func (x *examined) mark(a, b number) {
	size := abs(a)
	if less(size, abs(b)) {
		size = abs(b)
	}
	if !less(times(size, num(closeness)), abs(minus(a, b))) {
		x.close = true
	}
}

// ordered sorts by falling value, ties by name. What is equal to 40 figures is a tie; what is nearly equal else is
// close.
func ordered[T any](x *examined, list []T, value func(T) number, name func(T) string) {
	slices.SortStableFunc(list, func(a, b T) int {
		va, vb := value(a), value(b)
		if !less(times(abs(va), num(1e-40)), abs(minus(va, vb))) {
			return strings.Compare(name(a), name(b))
		}
		x.mark(va, vb)
		return vb.Cmp(va)
	})
}

// examine runs the rules and gathers the evidence.
func (n *naive) examine(c *naiveCase, on time.Time) *examined {
	x := &examined{}
	x.firing = &firing{naive: n, c: c, on: on, truths: map[*naiveRule]verity{}, facts: map[string]meaning{},
		asides: map[string]bool{}, faults: map[string]bool{}, sure: x.near, met: map[string]bool{}}
	for _, r := range n.rules {
		x.truth(r)
		for _, fact := range r.establishes {
			x.of(fact)
		}
	}
	for _, r := range n.rules {
		x.faulty = x.faulty || x.faults[r.id] && !r.advises()
	}
	done := x.combine()
	for _, r := range c.readings {
		if x.counts(r) && !slices.Contains(done, r) {
			x.sheets(r)
		}
	}
	for _, r := range n.rules {
		if x.fires(r) {
			x.says(r)
		}
	}
	return x
}

// counts: a reading that is usable and not set aside.
func (x *examined) counts(r *naiveReading) bool { return r.usable() && !x.aside(r.o.name) }

func (x *examined) add(name, family, basis string, e float64, from ...*naiveReading) *evidence {
	ev := &evidence{name: name, family: family, basis: basis, e: e, tests: set{}, from: from,
		c: make([]float64, len(x.leaves)+1), out: make([]bool, len(x.leaves))}
	for _, r := range from {
		maps.Copy(ev.tests, r.tests)
	}
	x.list = append(x.list, ev)
	return ev
}

// says: "`supports` gives ln ratio to the materials it names, `weakens` minus that, 0 to all others", to what is
// unlisted as to materials, and "a rule's exclusion gives ln e with e the largest blunder rate of the tests whose
// observables it names".
func (x *examined) says(r *naiveRule) {
	if r.excludes == nil && len(r.weights) == 0 {
		return
	}
	ev := x.add(r.id, r.family, strings.Join(r.basis, " "), 0)
	ev.rule = r
	// "0 to all others" is a contribution, but not of a rule whose `where:` is met by none
	for _, w := range r.weights {
		ev.said = ev.said || w.unlisted || len(w.leaves) > 0
	}
	if len(r.basis) == 0 {
		ev.basis = "rule " + r.id // it rests on nothing that another could rest on
	}
	for _, reading := range x.named(r) {
		ev.e = math.Max(ev.e, reading.blunder)
		maps.Copy(ev.tests, reading.tests)
	}
	if len(ev.tests) == 0 { // nothing that it names was read: the rates as declared
		for _, name := range r.observes {
			test := x.observables[name].test
			ev.tests[test] = true
			ev.e = math.Max(ev.e, x.tests[test].yields[name].blunder)
		}
	}
	for i := range x.leaves {
		said := []float64{0}
		for _, w := range r.weights {
			if slices.Contains(w.leaves, i) {
				said = append(said, w.c)
			}
		}
		if c := furthest(said); c != 0 {
			ev.says(i, c)
		}
		if slices.Contains(r.excludes, i) {
			ev.excludes(i)
		}
	}
	said := []float64{0}
	for _, w := range r.weights {
		if w.unlisted {
			said = append(said, w.c)
		}
	}
	ev.c[len(x.leaves)] = furthest(said)
}

// named lists the readings that count and that a rule's condition names, through facts too. Two rays are read for the
// birefringence unless it was given.
func (x *examined) named(r *naiveRule) (out []*naiveReading) {
	for _, reading := range x.c.readings {
		names := slices.Contains(r.observes, reading.o.name) || slices.Contains(r.observes, "birefringence") &&
			x.fromRays(reading)
		if x.counts(reading) && names {
			out = append(out, reading)
		}
	}
	return out
}

// furthest: "the c furthest from 0 counts (ties: the negative one)".
func furthest(said []float64) float64 {
	best := said[0]
	for _, c := range said[1:] {
		switch d := math.Abs(c) - math.Abs(best); {
		case math.Abs(d) <= 1e-14*math.Abs(c): // a tie, as ln r and ln 1/r may round unlike
			best = math.Min(best, c)
		case d > 0:
			best = c
		}
	}
	return best
}
