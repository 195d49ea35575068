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
	if !math.IsInf(a, 0) && !math.IsInf(b, 0) && a != b && math.Abs(a-b) <= closeness*math.Max(math.Abs(a), math.Abs(b)) {
		x.close = true
	}
}

// beyond: "*More than* is meant: what lies exactly `misfit` u plus tolerance outside (within 1 in 10^9 of the larger of the two
// numbers) excludes nothing".
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

// ordered sorts by falling value, ties by name. What is equal to 40 figures is a tie; what is nearly equal else is close.
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
	x.firing = &firing{naive: n, c: c, on: on, truths: map[*naiveRule]verity{}, facts: map[string]meaning{}, asides: map[string]bool{}, faults: map[string]bool{},
		sure: x.near, met: map[string]bool{}}
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
	ev := &evidence{name: name, family: family, basis: basis, e: e, tests: set{}, from: from, c: make([]float64, len(x.leaves)+1), out: make([]bool, len(x.leaves))}
	for _, r := range from {
		maps.Copy(ev.tests, r.tests)
	}
	x.list = append(x.list, ev)
	return ev
}

// excludes: "Then L = 0, so c = ln e".
func (ev *evidence) excludes(i int) {
	ev.says(i, math.Log(ev.e))
	ev.out[i] = true
}

func (ev *evidence) says(i int, c float64) { ev.c[i], ev.said = c, true }

// at: "Readings with unlike `where` are never combined: each counts by itself". A rule rests on the same readings as
// the first place's line; the line of a further place stands alone.
func (x *examined) at(r *naiveReading, basis string, gives func(*naiveReading) bool) string {
	for _, o := range x.c.readings {
		if gives(o) {
			if o == r {
				return basis
			}
			return basis + " at " + r.where
		}
	}
	return basis
}

// sheets: the contributions of one reading by what the material sheets say.
func (x *examined) sheets(r *naiveReading) {
	o := r.o
	alike := func(s *naiveReading) bool { return s.o == o && s.usable() }
	line := func(name string) *evidence { return x.add(name, o.family, x.at(r, name, alike), r.blunder, r) }
	switch r.form {
	case "choice":
		x.choice(line(o.name), r)
	case "features":
		for _, f := range o.words {
			if r.lookedFor[f] {
				x.feature(line(o.name+": "+f), r, f)
			}
		}
	case "bounds":
		x.interval(line(o.name), r)
	case "rays":
		x.rays(line(o.name), r)
		if d := x.observables["birefringence"]; d != nil && x.fromRays(r) {
			x.difference(x.add(d.name, d.family, x.at(r, d.name, x.fromRays), r.blunder, r), r, d)
		}
	default:
		x.value(line(o.name), r.value, r.u, o, o.span, o.resolution)
	}
}

// fromRays: "a `birefringence` given beside it replaces the difference", and one that is set aside does not count.
func (x *examined) fromRays(r *naiveReading) bool {
	given := slices.ContainsFunc(x.c.readings, func(o *naiveReading) bool { return o.o.name == "birefringence" })
	return r.form == "rays" && x.counts(r) && !given && !x.aside("birefringence")
}

// choice: "frequency words stand for numbers in the policy. Choices not mentioned share max(1 - sum of the mentioned,
// 0.03) equally; then all are divided by their sum. ... A choice may `cover` others: it stays out of the sum, and its L
// and L_any are the sums of theirs. L_any is 1 / number of choices."
func (x *examined) choice(ev *evidence, r *naiveReading) {
	o := r.o
	var plain []string
	for _, w := range o.words {
		if o.covers[w] == nil {
			plain = append(plain, w)
		}
	}
	meant := plainOf(o.covers, r.choice)
	for i, m := range x.leaves {
		words := m.words[o.name]
		if words == nil {
			continue
		}
		p := map[string]float64{}
		sum, silent := 0.0, 0.0
		for _, choice := range plain {
			if word, ok := words[choice]; ok {
				p[choice] = x.frequency[word]
				sum += p[choice]
			} else {
				silent++
			}
		}
		rest := math.Max(1-sum, 0.03)
		if silent > 0 {
			sum += rest
		}
		l, never := 0.0, true
		for _, choice := range meant {
			word, ok := words[choice]
			if !ok {
				p[choice] = rest / silent
			}
			l += p[choice] / sum
			never = never && word == "never"
		}
		if never { // "a choice that is `never`"
			ev.excludes(i)
			continue
		}
		ev.says(i, contributes(l, float64(len(meant))/float64(len(plain)), ev.e))
	}
}

// feature: "each is a contribution of its own: seen, L = p and L_any = the feature's `background`; looked for and not
// seen, 1 - p and 1 - background. Only a `never` feature that is seen excludes; absence never does."
func (x *examined) feature(ev *evidence, r *naiveReading, f string) {
	for i, m := range x.leaves {
		word, ok := m.words[r.o.name][f]
		if !ok {
			continue
		}
		p, background := x.frequency[word], r.o.background[f]
		switch {
		case !r.seen[f]:
			ev.says(i, contributes(1-p, 1-background, ev.e))
		case word == "never":
			ev.excludes(i)
		default:
			ev.says(i, contributes(p, background, ev.e))
		}
	}
}

// says: "`supports` gives ln ratio to the materials it names, `weakens` minus that, 0 to all others", to what is unlisted as to
// materials, and "a rule's exclusion gives ln e with e the largest blunder rate of the tests whose observables it names".
func (x *examined) says(r *naiveRule) {
	if r.excludes == nil && len(r.weights) == 0 {
		return
	}
	ev := x.add(r.id, r.family, strings.Join(r.basis, " "), 0)
	ev.rule = r
	for _, w := range r.weights { // "0 to all others" is a contribution, but not of a rule whose `where:` is met by none
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
		names := slices.Contains(r.observes, reading.o.name) || slices.Contains(r.observes, "birefringence") && x.fromRays(reading)
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
