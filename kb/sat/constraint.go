package sat

import (
	"math"
	"slices"

	"whystone/kb/vocab"
)

// status is a set of states that a reading may be in.
type status uint8

const (
	missing  status = 1 << iota // nobody tried
	vague                       // tried, and inconclusive
	there                       // a usable reading
	anyState = missing | vague | there
)

// ends is where one end of an interval may lie.
type ends struct {
	min, max         float64
	minOpen, maxOpen bool // the end itself is left out
}

func (e *ends) atLeast(x float64, open bool) {
	if x > e.min || x == e.min && open {
		e.min, e.minOpen = x, open
	}
}

func (e *ends) atMost(x float64, open bool) {
	if x < e.max || x == e.max && open {
		e.max, e.maxOpen = x, open
	}
}

func (e ends) empty() bool {
	return e.min > e.max || e.min == e.max && (e.minOpen || e.maxOpen)
}

// both is where a point may lie that is both ends.
func (e ends) both(o ends) ends {
	e.atLeast(o.min, o.minOpen)
	e.atMost(o.max, o.maxOpen)
	return e
}

// truths is a set of truths.
type truths uint8

const (
	yes truths = 1 << iota
	no
	undecided
)

// constraint is what is known of one dimension: the states that it may be in, and, if a reading is there, what that may
// say. It is convex: what satisfies it is told dimension by dimension and part by part.
type constraint struct {
	status status
	lo, hi ends     // quantity
	within uint64   // choice: what may be left open
	meets  []uint64 // choice: of each of these something is left open
	// features: seen, not seen (perhaps not looked for), looked for in vain, and not that
	seen, notSeen, unseen, notUnseen vocab.Set
	truths                           truths
	any                              bool // text: any but out
	in, out                          []string
}

// assert takes a literal in, and tells whether anything is left.
func (c *constraint) assert(d *dim, l *literal, sharp bool) bool {
	switch l.ask {
	case ready:
		return c.keep(pick(l.not, missing|vague, there), d, sharp)
	case unclear:
		return c.keep(pick(l.not, missing|there, vague), d, sharp)
	}
	if !l.not {
		c.status &= there
	}
	if c.status&there != 0 {
		c.value(l)
	}
	return c.keep(anyState, d, sharp)
}

func pick(yes bool, a, b status) status {
	if yes {
		return a
	}
	return b
}

// keep drops states, and the state of being there when no reading is left.
func (c *constraint) keep(s status, d *dim, sharp bool) bool {
	c.status &= s
	if c.status&there != 0 && !c.feasible(d, sharp) {
		c.status &^= there
	}
	return c.status != 0
}

// value takes in what a literal says of a reading that is there.
func (c *constraint) value(l *literal) {
	switch l.ask {
	case hiBelow, hiAtMost:
		if l.not {
			c.hi.atLeast(l.cut, l.ask == hiAtMost)
		} else {
			c.hi.atMost(l.cut, l.ask == hiBelow)
		}
	case loAtLeast, loAbove:
		if l.not {
			c.lo.atMost(l.cut, l.ask == loAtLeast)
		} else {
			c.lo.atLeast(l.cut, l.ask == loAbove)
		}
	case inside, outside:
		c.choice(l)
	case seen, unseen:
		c.features(l)
	case holds, fails:
		t := yes
		if l.ask == fails {
			t = no
		}
		if l.not {
			c.truths &^= t
		} else {
			c.truths &= t
		}
	case among, besides:
		c.text(l)
	}
}

func (c *constraint) choice(l *literal) {
	m := l.mask
	if l.ask == outside {
		m = ^m
	}
	if l.not {
		c.meets = append(slices.Clip(c.meets), ^m)
	} else {
		c.within &= m
	}
}

func (c *constraint) features(l *literal) {
	to := map[bool]*vocab.Set{false: &c.seen, true: &c.notSeen}
	if l.ask == unseen {
		to = map[bool]*vocab.Set{false: &c.unseen, true: &c.notUnseen}
	}
	to[l.not].Add(l.feature)
}

func (c *constraint) text(l *literal) {
	if (l.ask == among) == l.not {
		c.out = append(slices.Clip(c.out), l.words...)
		return
	}
	if c.any {
		c.any, c.in = false, l.words
		return
	}
	c.in = slices.DeleteFunc(slices.Clone(c.in), func(w string) bool { return !slices.Contains(l.words, w) })
}

// feasible tells whether some reading satisfies the constraint. A sharp reading is one point, one choice, and a plain
// answer for every feature.
func (c *constraint) feasible(d *dim, sharp bool) bool {
	switch d.kind {
	case quantity:
		return !c.point(d).empty() || !sharp && c.interval(d)
	case number:
		return !c.lo.both(c.hi).empty()
	case choice:
		return c.choosable(sharp)
	case features:
		return c.lookable(sharp)
	case text:
		return c.any || slices.ContainsFunc(c.in, func(w string) bool { return !slices.Contains(c.out, w) })
	}
	return c.truths != 0
}

// point is where a sharp reading may lie. A reading is as good as a point when its uncertainty is lost in the figures
// of its value; in 0 none is, so 0 can be read only where a test claims to have none.
func (c *constraint) point(d *dim) ends {
	e := c.lo.both(c.hi)
	e.atLeast(d.reach[0], false)
	e.atMost(d.reach[1], false)
	e.maxOpen = e.maxOpen || e.min == 0 && e.max == 0 && !d.exact
	return e
}

// interval tells whether an interval that is no point can be read. The widest is tried, as it satisfies all that speaks
// of an end being beyond something.
func (c *constraint) interval(d *dim) bool {
	lo, hi := c.bounds(d.reach, d.span)
	return !lo.empty() && !hi.empty() && lo.min < hi.max
}

// bounds is where the ends of an interval may lie that is read by what reads so far, of a quantity of this span. A
// bound may lie one step beyond what can be read: nothing was seen up to there. It leaves something of the span.
func (c *constraint) bounds(reach, span [2]float64) (lo, hi ends) {
	lo, hi = c.lo, c.hi
	lo.atMost(math.Nextafter(reach[1], math.Inf(1)), false)
	hi.atLeast(math.Nextafter(reach[0], math.Inf(-1)), false)
	lo.atMost(span[1], true)
	hi.atLeast(span[0], true)
	return lo, hi
}

func (c *constraint) choosable(sharp bool) bool {
	if sharp {
		return c.single() != 0
	}
	for _, m := range c.meets {
		if c.within&m == 0 {
			return false
		}
	}
	return c.within != 0
}

// single is the set of choices each of which alone satisfies the constraint.
func (c *constraint) single() uint64 {
	out := c.within
	for _, m := range c.meets {
		out &= m
	}
	return out
}

func (c *constraint) lookable(sharp bool) bool {
	clash := c.seen.Meets(c.notSeen) || c.seen.Meets(c.unseen) || c.unseen.Meets(c.notUnseen)
	return !clash && !(sharp && c.notSeen.Meets(c.notUnseen))
}

// free is a constraint that lets everything be.
func free(d *dim) constraint {
	c := constraint{status: d.states, within: ^uint64(0), truths: d.truths, any: true,
		lo: ends{min: math.Inf(-1), max: math.Inf(1)}, hi: ends{min: math.Inf(-1), max: math.Inf(1)}}
	switch d.kind {
	case number:
		c.lo.atLeast(d.reach[0], d.open)
		c.hi.atMost(d.reach[1], false)
	case text:
		c.out = []string{""} // it would be missing
	case choice:
		c.within = d.plain
	}
	return c
}
