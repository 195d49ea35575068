package box

import (
	"fmt"
	"math"
	"strconv"

	"whystone/kb/vocab"
)

// measured is a reading of a quantity within a constraint: a value as the test gives it, where its uncertainty leaves the
// interval on the right side of every cut; else one that is surer; else bounds.
func (b *Box) measured(d *dim, o *vocab.Observable, c *constraint) (Setting, error) {
	for _, y := range b.yields(o) {
		e := c.point(d)
		e.atLeast(y.Limits[0], false)
		e.atMost(y.Limits[1], false)
		if x, ok := between(e); ok {
			return b.value(o, y, x, e), nil
		}
	}
	if math.IsInf(c.hi.max, 1) && (!math.IsInf(c.lo.min, -1)) {
		return bound(o, "above", c.lo.min), nil
	}
	if math.IsInf(c.lo.min, -1) && !math.IsInf(c.hi.max, 1) {
		return bound(o, "below", c.hi.max), nil
	}
	lo, okLo := between(ends{min: c.lo.min, max: min(c.lo.max, c.hi.max), minOpen: c.lo.minOpen, maxOpen: c.lo.maxOpen})
	hi, okHi := between(ends{min: max(c.hi.min, c.lo.min), max: c.hi.max, minOpen: c.hi.minOpen, maxOpen: c.hi.maxOpen})
	if !okLo || !okHi {
		return Setting{}, fmt.Errorf("no reading lies within what is asked of %s", o.Name)
	}
	return Setting{o.Name, "{between: [" + lo + ", " + hi + "]}", "between " + lo + " and " + hi}, nil
}

func bound(o *vocab.Observable, word string, x float64) Setting {
	t := strconv.FormatFloat(x, 'g', 12, 64)
	return Setting{o.Name, "{" + word + ": " + t + "}", word + " " + t}
}

// yields lists the tests that give an observable, first the one that declares it.
func (b *Box) yields(o *vocab.Observable) []*vocab.Yield {
	var out []*vocab.Yield
	for _, y := range b.space.rs.Vocabulary.Yields {
		switch {
		case y.Observable != o:
		case y.Test == o.Test:
			out = append([]*vocab.Yield{y}, out...)
		default:
			out = append(out, y)
		}
	}
	return out
}

// value writes a value whose expanded interval stays within e.
func (b *Box) value(o *vocab.Observable, y *vocab.Yield, x string, e ends) Setting {
	v, _ := strconv.ParseFloat(x, 64) // between wrote it
	room := min(v-e.min, e.max-v) / 2
	u := y.Uncertainty
	if in := b.space.rs.Vocabulary.HouseInstrument(y.Test); in != nil && in.Uncertainty > 0 {
		u = in.Uncertainty
	}
	test := ""
	if y.Test != o.Test {
		test = ", test: " + y.Test
	}
	switch {
	case room <= 0:
		return Setting{o.Name, "{between: [" + x + ", " + x + "]" + test + "}", x + " exactly"}
	case u < room && test == "":
		return Setting{o.Name, x, x}
	case u < room:
		return Setting{o.Name, "{value: " + x + test + "}", x}
	}
	less := strconv.FormatFloat(room*0.8, 'g', 1, 64)
	return Setting{o.Name, "{value: " + x + ", uncertainty: " + less + test + "}", x + " ± " + less}
}

// between is a number within an interval, with few figures.
func between(e ends) (string, bool) {
	if e.empty() {
		return "", false
	}
	lo, hi := e.min, e.max
	switch {
	case math.IsInf(lo, -1) && math.IsInf(hi, 1):
		lo, hi = 0, 2
	case math.IsInf(lo, -1):
		lo = hi - max(1, math.Abs(hi))
	case math.IsInf(hi, 1):
		hi = lo + max(1, math.Abs(lo))
	}
	within := func(x float64) bool {
		return !math.IsInf(x, 0) && (x > e.min || x == e.min && !e.minOpen) && (x < e.max || x == e.max && !e.maxOpen)
	}
	if lo == hi {
		return strconv.FormatFloat(lo, 'f', -1, 64), true
	}
	mid := lo + (hi-lo)/2
	for figures := 0; figures <= 12; figures++ {
		t := strconv.FormatFloat(mid, 'f', figures, 64)
		if x, err := strconv.ParseFloat(t, 64); err == nil && within(x) && min(x-lo, hi-x) > (hi-lo)/4 {
			return t, true
		}
	}
	t := strconv.FormatFloat(mid, 'g', -1, 64)
	x, err := strconv.ParseFloat(t, 64)
	return t, err == nil && within(x)
}
