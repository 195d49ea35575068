package sat

import (
	"fmt"
	"math"
	"strconv"

	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// measured is a reading of a quantity within a constraint: a value as the test gives it, where its uncertainty leaves
// the interval on the right side of every cut; else one that is surer; else bounds.
//
// Of a sharp reading what lies at an end of the reach is settled by that alone, so that its interval must not go
// beyond.
func (b *Box) measured(d *dim, o *vocab.Observable, c *constraint, mode Mode) (Setting, error) {
	sources, e := b.space.sources(o), c.lo.both(c.hi)
	if mode == Sharp {
		e = c.point(d)
		e.minOpen = e.minOpen || e.min == 0 && !d.exact
		e.maxOpen = e.maxOpen || e.max == 0 && !d.exact
	}
	for _, s := range sources {
		if out, ok := s.value(o, e); ok {
			return out, nil
		}
	}
	for _, s := range sources {
		if out, ok := s.bounds(o, c); ok {
			return out, nil
		}
	}
	return Setting{}, fmt.Errorf("no reading lies within what is asked of %s", o.Name)
}

// source is a way to read a quantity: a test, and the instrument it is done with.
type source struct {
	named  []syntax.Entry // the keys that name it in a reading; none where it need not be named
	limits [2]float64
	u      float64 // standard uncertainty
	varies bool    // it follows from the stone where a reading says none
}

// sources lists the ways to read a quantity: first by the test that declares it, as the house does it.
func (s *Space) sources(o *vocab.Observable) []source {
	v := s.rs.Vocabulary
	var own, others []source
	for _, y := range v.Yields {
		if y.Observable != o {
			continue
		}
		house := v.HouseInstrument(y.Test)
		plain := source{limits: y.Limits, u: y.Uncertainty, varies: y.Formula != ""}
		if y.Test == o.Test {
			own = append(own, plain.by(house, o))
		} else {
			plain.named = []syntax.Entry{syntax.Keyed("test", syntax.NewText(y.Test))}
			others = append(others, plain.by(house, o))
		}
		for _, in := range v.Instruments {
			if in.Test == y.Test && in != house {
				plain.named = []syntax.Entry{syntax.Keyed("instrument", syntax.NewText(in.ID))}
				others = append(others, plain.by(in, o))
			}
		}
	}
	return append(own, others...)
}

// by is the source with what an instrument, if there is one, is good for.
func (s source) by(in *vocab.Instrument, o *vocab.Observable) source {
	if in == nil || in.Observable != "" && in.Observable != o.Name {
		return s
	}
	if in.Uncertainty > 0 {
		s.u, s.varies = in.Uncertainty, false
	}
	if in.Limits != nil {
		s.limits = *in.Limits
	}
	return s
}

// value is a value that the source can give, and whose expanded interval lies within e.
func (s source) value(o *vocab.Observable, e ends) (Setting, bool) {
	can := e
	for _, r := range [][2]float64{s.limits, o.Span} {
		can.atLeast(r[0], false)
		can.atMost(r[1], false)
	}
	x, ok := between(can)
	if !ok {
		return Setting{}, false
	}
	v, _ := strconv.ParseFloat(x, 64) // between wrote it
	room := min(v-e.min, e.max-v) / 2
	fits := s.u == 0 || v-2*s.u > e.min && v+2*s.u < e.max // as the evaluator reckons it
	switch {
	case fits && s.varies:
		u := strconv.FormatFloat(s.u, 'g', -1, 64)
		return s.reading(o, x+" ± "+u, keyed("value", x), keyed("uncertainty", u)), true
	case fits && len(s.named) == 0:
		return Setting{o.Name, syntax.NewWord(x), x}, true
	case fits:
		return s.reading(o, x, keyed("value", x)), true
	case room > 0:
		less := strconv.FormatFloat(room*0.6, 'g', 1, 64) // one figure is a third too much at most
		return s.reading(o, x+" ± "+less, keyed("value", x), keyed("uncertainty", less)), true
	case v == 0:
		return Setting{}, false // no uncertainty is so small that it is lost in 0
	}
	lost := strconv.FormatFloat((math.Nextafter(math.Abs(v), math.Inf(1))-math.Abs(v))/32, 'g', 1, 64)
	return s.reading(o, x+" exactly", keyed("value", x), keyed("uncertainty", lost)), true
}

// reading is a reading by the source.
func (s source) reading(o *vocab.Observable, says string, entries ...syntax.Entry) Setting {
	return Setting{o.Name, syntax.NewMap(append(entries, s.named...)...), says}
}

func keyed(key, x string) syntax.Entry { return syntax.Keyed(key, syntax.NewWord(x)) }

// bounds are hard bounds as the source can give them.
func (s source) bounds(o *vocab.Observable, c *constraint) (Setting, bool) {
	lo, hi := c.bounds(s.limits, o.Span)
	if lo.empty() || hi.empty() || lo.min >= hi.max {
		return Setting{}, false
	}
	lo.atMost(hi.max, true)
	hi.atLeast(lo.min, true)
	switch {
	case math.IsInf(hi.max, 1) && !math.IsInf(lo.min, -1) && lo.min < lo.max:
		x := shortest(lo.min)
		return s.reading(o, "above "+x, keyed("above", x)), true
	case math.IsInf(lo.min, -1) && !math.IsInf(hi.max, 1) && hi.min < hi.max:
		x := shortest(hi.max)
		return s.reading(o, "below "+x, keyed("below", x)), true
	}
	if lo.minOpen && math.Nextafter(lo.min, math.Inf(1)) >= lo.max { // just beyond a limit, and yet with an upper bound
		high, ok := between(ends{min: hi.min, minOpen: true, max: hi.max})
		x := shortest(lo.min)
		return s.reading(o, "above "+x+" and below "+high, keyed("above", x), keyed("below", high)), ok
	}
	low, ok := between(lo)
	if !ok {
		return Setting{}, false
	}
	x, _ := strconv.ParseFloat(low, 64)
	hi.atLeast(x, true)
	high, ok := between(hi)
	both := syntax.NewList(syntax.NewWord(low), syntax.NewWord(high))
	return s.reading(o, "between "+low+" and "+high, syntax.Keyed("between", both)), ok
}

func shortest(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

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
	mid := lo + (hi-lo)/2
	for figures := 0; figures <= 12 && lo < hi; figures++ {
		t := strconv.FormatFloat(mid, 'f', figures, 64)
		if x, err := strconv.ParseFloat(t, 64); err == nil && within(x) && min(x-lo, hi-x) > (hi-lo)/4 {
			return t, true
		}
	}
	// the two ends are neighbours, or very large or small
	for _, x := range []float64{mid, math.Nextafter(e.min, math.Inf(1)), e.min, e.max} {
		if within(x) {
			return strconv.FormatFloat(x, 'g', -1, 64), true
		}
	}
	return "", false
}
