package engine_test

import (
	"math"
	"slices"
)

// value: "The material's true value is uniform over its range [a, b]; with `typical`, 0.9 U(typical) + 0.1 U([a, b])".
// "L_any is 1 / width of the observable's declared span."
func (x *examined) value(ev *evidence, value, u float64, given rangeOf, span [2]float64, resolution float64) {
	for i, m := range x.leaves {
		r := given(m)
		if r == nil {
			continue // "c is 0 ... where the sheet says nothing"
		}
		// "a reading further outside the range than `misfit` (4) standard uncertainties plus the sheet's tolerance"
		if x.beyond(r.low-value, u, r.tolerance) || x.beyond(value-r.high, u, r.tolerance) {
			ev.excludes(i)
			continue
		}
		l := mixed(r.low, r.high, r.typical, resolution, func(a, b float64) float64 {
			return uniformRead(value, u, a,
				b)
		})
		ev.says(i, contributes(l, 1/(span[1]-span[0]), ev.e))
	}
}

func mixed(low, high float64, typical *[2]float64, resolution float64, l func(a, b float64) float64) float64 {
	whole := l(widen(low, high, resolution))
	if typical == nil {
		return whole
	}
	return 0.9*l(widen(typical[0], typical[1], resolution)) + 0.1*whole
}

// interval: "A bound or interval integrates the reading's density over x, and L_any is the part of the span that it
// covers."
func (x *examined) interval(ev *evidence, r *naiveReading, given rangeOf) {
	o := r.o
	covered := (math.Min(r.hi, o.span[1]) - math.Max(r.lo, o.span[0])) / (o.span[1] - o.span[0])
	for i, m := range x.leaves {
		p := given(m)
		if p == nil {
			continue
		}
		// "a bound or interval beyond which the whole range lies by more than that"
		if x.beyond(r.lo-p.high, r.noise, p.tolerance) || x.beyond(p.low-r.hi, r.noise, p.tolerance) {
			ev.excludes(i)
			continue
		}
		l := mixed(p.low, p.high, p.typical, o.resolution, func(a, b float64) float64 {
			return uniformBetween(r.lo,
				r.hi, r.noise, a, b)
		})
		ev.says(i, contributes(l, covered, ev.e))
	}
}

// rays: "the low ray as a quantity against [a, b - d1], d1 the sheet's smallest birefringence; either ray outside [a,
// b] excludes".
func (x *examined) rays(ev *evidence, r *naiveReading, given rangeOf) {
	o := r.o
	for i, m := range x.leaves {
		p := given(m)
		if p == nil {
			continue
		}
		out := false
		for _, ray := range []struct{ n, u float64 }{{r.value, r.u}, {r.high, r.highU}} {
			out = x.beyond(p.low-ray.n, ray.u, p.tolerance) || x.beyond(ray.n-p.high, ray.u, p.tolerance) || out
		}
		if out {
			ev.excludes(i)
			continue
		}
		a, b := p.low, p.high
		if d := m.ranges["birefringence"]; d != nil {
			b = math.Max(a, b-d.low)
		}
		typical := p.typical
		if typical != nil {
			typical = &[2]float64{math.Max(a, typical[0]), math.Min(b, typical[1])}
			if typical[0] > typical[1] {
				typical = nil // none of the typical part is left
			}
		}
		l := mixed(a, b, typical, o.resolution, func(a, b float64) float64 { return uniformRead(r.value, r.u, a, b) })
		ev.says(i, contributes(l, 1/(o.span[1]-o.span[0]), ev.e))
	}
}

// difference: "The difference d is a reading of `birefringence` with uncertainty u sqrt 2; where d1 > 0 its density is
// (1 - `missed_turn`) times the sheet's + `missed_turn` times U(0, d1), and a d below d1 excludes nothing."
func (x *examined) difference(ev *evidence, r *naiveReading, o *naiveObservable, given rangeOf) {
	d, u := r.high-r.value, math.Sqrt(r.u*r.u+r.highU*r.highU)
	for i, m := range x.leaves {
		p := given(m)
		if p == nil {
			continue
		}
		if x.beyond(d-p.high, u, p.tolerance) {
			ev.excludes(i)
			continue
		}
		density := func(a, b float64) float64 { return uniformRead(d, u, a, b) }
		l := mixed(p.low, p.high, p.typical, o.resolution, density)
		if p.low > 0 {
			missed := x.missed
			l = (1-missed)*l + missed*density(widen(0, p.low, o.resolution))
		}
		ev.says(i, contributes(l, 1/(o.span[1]-o.span[0]), ev.e))
	}
}

// combine: "Two observables of one property (hydrostatic and size density) are combined by inverse variance when they
// agree as repeats do, with the larger blunder rate and tolerance; else both count singly".
func (x *examined) combine() (done []*naiveReading) {
	only := func(r *naiveReading) bool {
		return r.form == "value" && x.counts(r) && !slices.ContainsFunc(x.c.readings, func(o *naiveReading) bool {
			return o != r && o.o == r.o && o.usable()
		})
	}
	for i, a := range x.c.readings {
		for _, b := range x.c.readings[i+1:] {
			if !only(a) || !only(b) || a.o == b.o || a.o.property != b.o.property {
				continue
			}
			// "Repeats disagree when two quantities differ by more than 2 sqrt(u1^2 + u2^2)"
			if x.above(math.Abs(a.value-b.value), 2*math.Sqrt(a.u*a.u+b.u*b.u)) {
				continue
			}
			va, vb := a.u*a.u, b.u*b.u
			value, u := (a.value/va+b.value/vb)/(1/va+1/vb), 1/math.Sqrt(1/va+1/vb)
			oa, ob := a.o, b.o
			span := [2]float64{math.Min(oa.span[0], ob.span[0]), math.Max(oa.span[1], ob.span[1])}
			ev := x.add(oa.name+" + "+ob.name, oa.family, oa.name+" "+ob.name, math.Max(a.blunder, b.blunder), a, b)
			x.measured(ev, oa.property, func(ev *evidence, given rangeOf) {
				x.value(ev, value, u, given, span, math.Max(oa.resolution, ob.resolution))
			})
			done = append(done, a, b)
		}
	}
	return done
}
