package engine_test

import (
	"math"
	"slices"

	"whystone/kb/casefile"
	"whystone/kb/vocab"
)

// value: "The material's true value is uniform over its range [a, b]; with `typical`, 0.9 U(typical) + 0.1 U([a, b])".
// "L_any is 1 / width of the observable's declared span."
func (x *examined) value(ev *evidence, value, u float64, o *vocab.Observable, span [2]float64, resolution float64) {
	for i, m := range x.rs.Leaves {
		r := m.Ranges[o.Property]
		if r == nil {
			continue // "c is 0 ... where the sheet says nothing"
		}
		// "a reading further outside the range than `misfit` (4) standard uncertainties plus the sheet's tolerance"
		reach := x.rs.Policy.Misfit*u + r.Tolerance
		if x.above(r.Low-value, reach) || x.above(value-r.High, reach) {
			ev.excludes(i)
			continue
		}
		l := mixed(r.Low, r.High, r.Typical, resolution, func(a, b float64) float64 { return uniformRead(value, u, a, b) })
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
func (x *examined) interval(ev *evidence, r *casefile.Reading) {
	o := r.Observable
	covered := (math.Min(r.Hi, o.Span[1]) - math.Max(r.Lo, o.Span[0])) / (o.Span[1] - o.Span[0])
	for i, m := range x.rs.Leaves {
		p := m.Ranges[o.Property]
		if p == nil {
			continue
		}
		// "a bound or interval beyond which the whole range lies by more than that"
		reach := x.rs.Policy.Misfit*r.Noise + p.Tolerance
		if x.above(r.Lo-p.High, reach) || x.above(p.Low-r.Hi, reach) {
			ev.excludes(i)
			continue
		}
		l := mixed(p.Low, p.High, p.Typical, o.Resolution, func(a, b float64) float64 { return uniformBetween(r.Lo, r.Hi, r.Noise, a, b) })
		ev.says(i, contributes(l, covered, ev.e))
	}
}

// rays: "the low ray as a quantity against [a, b - d1], d1 the sheet's smallest birefringence; either ray outside [a, b]
// excludes".
func (x *examined) rays(ev *evidence, r *casefile.Reading) {
	o := r.Observable
	for i, m := range x.rs.Leaves {
		p := m.Ranges[o.Property]
		if p == nil {
			continue
		}
		out := false
		for _, ray := range []struct{ n, u float64 }{{r.Value, r.U}, {r.High, r.HighU}} {
			reach := x.rs.Policy.Misfit*ray.u + p.Tolerance
			out = x.above(p.Low-ray.n, reach) || x.above(ray.n-p.High, reach) || out
		}
		if out {
			ev.excludes(i)
			continue
		}
		a, b := p.Low, p.High
		if d := m.Ranges["birefringence"]; d != nil {
			b = math.Max(a, b-d.Low)
		}
		typical := p.Typical
		if typical != nil {
			typical = &[2]float64{math.Max(a, typical[0]), math.Min(b, typical[1])}
			if typical[0] > typical[1] {
				typical = nil // none of the typical part is left
			}
		}
		l := mixed(a, b, typical, o.Resolution, func(a, b float64) float64 { return uniformRead(r.Value, r.U, a, b) })
		ev.says(i, contributes(l, 1/(o.Span[1]-o.Span[0]), ev.e))
	}
}

// difference: "The difference d is a reading of `birefringence` with uncertainty u sqrt 2; where d1 > 0 its density is
// (1 - `missed_turn`) times the sheet's + `missed_turn` times U(0, d1), and a d below d1 excludes nothing."
func (x *examined) difference(ev *evidence, r *casefile.Reading, o *vocab.Observable) {
	d, u := r.High-r.Value, math.Sqrt(r.U*r.U+r.HighU*r.HighU)
	for i, m := range x.rs.Leaves {
		p := m.Ranges[o.Property]
		if p == nil {
			continue
		}
		if x.above(d-p.High, x.rs.Policy.Misfit*u+p.Tolerance) {
			ev.excludes(i)
			continue
		}
		density := func(a, b float64) float64 { return uniformRead(d, u, a, b) }
		l := mixed(p.Low, p.High, p.Typical, o.Resolution, density)
		if p.Low > 0 {
			missed := x.rs.Policy.MissedTurn
			l = (1-missed)*l + missed*density(widen(0, p.Low, o.Resolution))
		}
		ev.says(i, contributes(l, 1/(o.Span[1]-o.Span[0]), ev.e))
	}
}

// combine: "Two observables of one property (hydrostatic and size density) are combined by inverse variance when they
// agree as repeats do, with the larger blunder rate and tolerance; else both count singly".
func (x *examined) combine() (done []*casefile.Reading) {
	only := func(r *casefile.Reading) bool {
		return r.Form == casefile.Value && x.counts(r) && !slices.ContainsFunc(x.c.Readings, func(o *casefile.Reading) bool {
			return o != r && o.Observable == r.Observable && o.Form != casefile.Inconclusive
		})
	}
	for i, a := range x.c.Readings {
		for _, b := range x.c.Readings[i+1:] {
			if !only(a) || !only(b) || a.Observable == b.Observable || a.Observable.Property != b.Observable.Property {
				continue
			}
			// "Repeats disagree when two quantities differ by more than 2 sqrt(u1^2 + u2^2)"
			if x.above(math.Abs(a.Value-b.Value), 2*math.Sqrt(a.U*a.U+b.U*b.U)) {
				continue
			}
			va, vb := a.U*a.U, b.U*b.U
			value, u := (a.Value/va+b.Value/vb)/(1/va+1/vb), 1/math.Sqrt(1/va+1/vb)
			oa, ob := a.Observable, b.Observable
			span := [2]float64{math.Min(oa.Span[0], ob.Span[0]), math.Max(oa.Span[1], ob.Span[1])}
			ev := x.add(oa.Name+" + "+ob.Name, oa.Family, oa.Name+" "+ob.Name, math.Max(a.Blunder, b.Blunder), a, b)
			x.value(ev, value, u, oa, span, math.Max(oa.Resolution, ob.Resolution))
			done = append(done, a, b)
		}
	}
	return done
}
