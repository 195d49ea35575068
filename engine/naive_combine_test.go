package engine_test

import (
	"maps"
	"math"
	"slices"
)

// combined makes one reading of the repeats in one place. What stayed inconclusive says nothing beside what did not.
func combined(all []*naiveReading) *naiveReading {
	if len(all) == 1 {
		return all[0]
	}
	usable := slices.DeleteFunc(slices.Clone(all), func(r *naiveReading) bool { return !r.usable() })
	if len(usable) == 0 {
		return all[0]
	}
	out := *usable[0]
	out.tests, out.seen, out.lookedFor = set{}, set{}, set{}
	for _, r := range usable {
		maps.Copy(out.tests, r.tests)
		out.blunder, out.noise = math.Max(out.blunder, r.blunder), math.Max(out.noise, r.noise)
	}
	agree := true
	switch out.form {
	case "features": // "features are united"
		for _, r := range usable {
			maps.Copy(out.seen, r.seen)
			maps.Copy(out.lookedFor, r.lookedFor)
			out.read = append(slices.Clone(out.read), r.read...)
		}
		out.settle()
	case "choice": // "agreeing choices count once"
		agree = out.narrowest(usable)
	default:
		agree = out.weighted(usable)
	}
	if !agree { // "the reading is then inconclusive, and says so"
		out.form = "inconclusive"
	}
	return &out
}

// narrowest: of choices that leave room for each other the one that leaves least.
func (r *naiveReading) narrowest(all []*naiveReading) bool {
	left := all[0].open()
	for _, o := range all {
		for plain := range left {
			if !o.open()[plain] {
				delete(left, plain)
			}
		}
		if len(o.open()) < len(r.open()) {
			r.choice = o.choice
		}
	}
	return len(left) > 0
}

// apartBy: "two quantities differ by more than 2 sqrt(u1^2 + u2^2)".
func apartBy(a, ua, b, ub float64) bool { return math.Abs(a-b) > 2*math.Sqrt(ua*ua+ub*ub) }

// weighted: "quantities are combined by inverse-variance weighting". Bounds are narrowed by each other; a value must
// lie within them as far as its expanded interval tells, and on one of the rays where there are rays too.
func (r *naiveReading) weighted(all []*naiveReading) (agree bool) {
	byForm := map[string][]*naiveReading{}
	for _, x := range all {
		byForm[x.form] = append(byForm[x.form], x)
	}
	agree = true
	mean := func(list []*naiveReading, of func(*naiveReading) (x, u float64)) (float64, float64) {
		sum, weights := 0.0, 0.0
		for _, a := range list {
			xa, ua := of(a)
			sum, weights = sum+xa/ua/ua, weights+1/ua/ua
			for _, b := range list {
				xb, ub := of(b)
				agree = agree && !apartBy(xa, ua, xb, ub)
			}
		}
		return sum / weights, 1 / math.Sqrt(weights)
	}
	low := func(r *naiveReading) (float64, float64) { return r.value, r.u }
	top := func(r *naiveReading) (float64, float64) { return r.high, r.highU }
	lo, hi := math.Inf(-1), math.Inf(1)
	openLo, openHi := false, false
	for _, b := range byForm["bounds"] {
		if b.lo > lo {
			lo, openLo = b.lo, b.openLo
		}
		if b.lo == lo {
			openLo = openLo || b.openLo
		}
		if b.hi < hi {
			hi, openHi = b.hi, b.openHi
		}
		if b.hi == hi {
			openHi = openHi || b.openHi
		}
	}
	values, rays := byForm["value"], byForm["rays"]
	agree = lo < hi || lo == hi && !openLo && !openHi // else one bound leaves nothing of another
	switch {
	case len(rays) > 0:
		r.form = "rays"
		r.value, r.u = mean(rays, low)
		r.high, r.highU = mean(rays, top)
		for _, v := range values {
			agree = agree && (!apartBy(v.value, v.u, r.value, r.u) || !apartBy(v.value, v.u, r.high, r.highU))
		}
		agree = agree && r.value+2*r.u >= lo && r.high-2*r.highU <= hi
	case len(values) > 0:
		r.form = "value"
		r.value, r.u = mean(values, low)
		agree = agree && r.value+2*r.u >= lo && r.value-2*r.u <= hi
	default:
		r.form, r.lo, r.hi, r.openLo, r.openHi = "bounds", lo, hi, openLo, openHi
		agree = lo < hi
	}
	return agree
}
