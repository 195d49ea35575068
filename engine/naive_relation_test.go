package engine_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// naiveRelation is one of a sheet's `relations:`.
type naiveRelation struct {
	of, by, ray string
	through     [][2]float64
	within      float64
}

// relate: "A sheet that says `relations` says all of them; else those of its group hold".
func (n *naive) relate(m *naiveNode) {
	at := m
	for at != nil && !at.sheet.has("relations") {
		at = at.up
	}
	if at == nil {
		return
	}
	for _, s := range at.sheet.at("relations").list() {
		r := naiveRelation{of: s.at("of").text(""), by: s.at("by").text(""), ray: s.at("ray").text("mean"),
			within: s.at("within").or(0)}
		for _, p := range s.at("through").list() {
			r.through = append(r.through, p.pair())
		}
		m.relations = append(m.relations, r)
	}
}

// rangeOf is the range that a reading is held against on a leaf; nil where nothing is said.
type rangeOf func(m *naiveNode) *naiveRange

// measured is what a reading of a quantity says by the flat ranges, and then what it says "where both were read": that
// is another piece of evidence of the same family and on the same readings, "which rests on both, as a rule that names
// both would". "Of a leaf of which it speaks the sheet's line is silent; where the flat range excludes, the sheet's
// line speaks."
func (x *examined) measured(flat *evidence, property string, fill func(ev *evidence, given rangeOf)) {
	fill(flat, func(m *naiveNode) *naiveRange { return m.ranges[property] })
	by := map[string][]int{}
	left := map[int]*naiveRange{}
	for i, m := range x.leaves {
		for _, r := range m.relations {
			if r.of != property || flat.out[i] {
				continue
			}
			if n := x.leaves[i].left(x, r); n != nil {
				by[r.by], left[i] = append(by[r.by], i), n
			}
		}
	}
	for _, name := range sortedNames(by) {
		first := x.goesBy(name)
		ev := x.add(flat.name, flat.family, flat.basis, flat.e, flat.from...)
		ev.first, ev.silent = first, make([]bool, len(flat.out))
		for _, r := range first {
			ev.e = math.Max(ev.e, r.blunder) // "the larger blunder rate"
			for t := range r.tests {         // "the tests of both"
				ev.tests[t] = true
			}
		}
		fill(ev, func(m *naiveNode) *naiveRange {
			if i := slices.Index(x.leaves, m); slices.Contains(by[name], i) {
				return left[i]
			}
			return nil
		})
		if flat.silent == nil {
			flat.silent = make([]bool, len(flat.out))
		}
		for i := range ev.silent {
			if ev.silent[i] = !slices.Contains(by[name], i); !ev.silent[i] {
				flat.silent[i], flat.c[i] = true, 0
			}
		}
	}
}

func sortedNames(m map[string][]int) (out []string) {
	for name := range m {
		out = append(out, name)
	}
	slices.Sort(out)
	return out
}

// goesBy: "readings that count, in all places".
func (x *examined) goesBy(name string) (out []*naiveReading) {
	for _, r := range x.c.readings {
		if r.o.name == name && x.counts(r) {
			out = append(out, r)
		}
	}
	return out
}

// left is what a relation leaves of a leaf's flat range; nil where that is all of it, or nothing was read that it goes
// by.
func (m *naiveNode) left(x *examined, r naiveRelation) *naiveRange {
	low, high := math.Inf(1), math.Inf(-1)
	for _, reading := range x.goesBy(r.by) { // "from the lowest to the highest"
		l, h := m.lies(reading, r.ray)
		low, high = math.Min(low, l), math.Max(high, h)
	}
	if low > high {
		return nil
	}
	// "the sheet's band over the first": the line through the points, level beyond them.
	lo, hi := math.Inf(1), math.Inf(-1)
	meets := func(y float64) { lo, hi = math.Min(lo, y-r.within), math.Max(hi, y+r.within) }
	last := len(r.through) - 1
	if low <= r.through[0][0] {
		meets(r.through[0][1])
	}
	if high >= r.through[last][0] {
		meets(r.through[last][1])
	}
	for k := range last {
		a, b := r.through[k], r.through[k+1]
		from, to := math.Max(low, a[0]), math.Min(high, b[0])
		for _, at := range []float64{from, to} {
			if from <= to {
				part := (at - a[0]) / (b[0] - a[0])
				meets(a[1]*(1-part) + b[1]*part)
			}
		}
	}
	flat := m.ranges[r.of]
	x.near(lo, flat.low)
	x.near(lo, flat.high)
	x.near(hi, flat.low)
	x.near(hi, flat.high)
	if lo <= flat.low && hi >= flat.high {
		x.met["related, and all of the range is left"] = true
		return nil
	}
	x.met["related, and the band misses the range"] = x.met["related, and the band misses the range"] ||
		lo > flat.high || hi < flat.low
	x.met["related, beyond the points"] = x.met["related, beyond the points"] || high < r.through[0][0] ||
		low > r.through[last][0]
	// "intersected with the flat range; where nothing is left, the nearer end of that"
	within := func(y float64) float64 { return math.Max(math.Min(y, flat.high), flat.low) }
	out := &naiveRange{low: within(lo), high: within(hi), tolerance: flat.tolerance}
	if t := flat.typical; t != nil {
		x.near(out.low, t[1])
		x.near(out.high, t[0])
		if a, b := math.Max(t[0], out.low), math.Min(t[1], out.high); a <= b {
			out.typical = &[2]float64{a, b}
		}
	}
	return out
}

// lies: "the first ± 2u"; "of two rays the sheet's choice"; "one ray that was read may be any between the two".
func (m *naiveNode) lies(r *naiveReading, ray string) (low, high float64) {
	switch r.form {
	case "rays":
		at := map[string][2]float64{"low": {r.value, r.u}, "high": {r.high, r.highU},
			"mean": {(r.value + r.high) / 2, math.Sqrt(r.u*r.u+r.highU*r.highU) / 2}}[ray]
		return at[0] - 2*at[1], at[0] + 2*at[1]
	case "bounds":
		low, high = r.lo-2*r.noise, r.hi+2*r.noise
	default:
		low, high = r.value-2*r.u, r.value+2*r.u
	}
	if r.o.property == "ri" {
		d := m.ranges["birefringence"].high
		part := map[string][2]float64{"low": {1, 0}, "high": {0, 1}, "mean": {0.5, 0.5}}[ray]
		low, high = low-part[0]*d, high+part[1]*d
	}
	return low, high
}

// restsOn tells whether what an evidence says of a leaf rests on a reading.
func (ev *evidence) restsOn(r *naiveReading, leaf int) bool {
	silent := leaf < len(ev.silent) && ev.silent[leaf]
	return !silent && (slices.Contains(ev.from, r) || slices.Contains(ev.first, r))
}

func (v *opinion) noteRelated(ev *evidence, add func(string, bool)) {
	if ev.first == nil {
		return
	}
	r := ev.from[0]
	add("related", true)
	add("related excludes", slices.Contains(ev.out, true))
	add("related to a bound", slices.ContainsFunc(ev.first, func(r *naiveReading) bool { return r.form == "bounds" }))
	add("related to rays", slices.ContainsFunc(ev.first, func(r *naiveReading) bool { return r.form == "rays" }))
	add("related to several places", len(ev.first) > 1)
	add("related difference of rays", r.form == "rays" && ev.name == "birefringence")
	add("related bound", r.form == "bounds")
	add("related, of two readings", len(ev.from) > 1)
	add("related, of a further place", strings.Contains(ev.basis, " at "))
}

// relations draws what goes with what on a sheet that gives the ranges for it.
func (d *drawn) relations(s *drawnSheet) {
	if d.aside == nil || d.aside.chance(0.4) {
		return
	}
	a := d.aside
	measuredBy := map[string][]string{"ri": {"ri"}, "birefringence": {"birefringence"},
		"specific_gravity": {"specific_gravity", "size_density"}}
	order := []string{"ri", "birefringence", "specific_gravity"}
	if a.chance(0.4) {
		a.Shuffle(3, func(i, j int) { order[i], order[j] = order[j], order[i] })
	}
	var list []string
	for n, of := range order {
		for _, property := range order[:n] {
			x, y := s.ranges[property], s.ranges[of]
			by := pick(a, measuredBy[property]...)
			_, split := s.ranges["birefringence"]
			taken := slices.ContainsFunc(list, func(r string) bool { return strings.HasPrefix(r, "{of: "+of+",") })
			if _, ok := s.ranges[of]; !ok || taken || x.high-x.low < 1e-5 || by == "ri" && !split || a.chance(0.2) {
				continue
			}
			list = append(list, a.relation(of, by, x, y))
		}
	}
	if len(list) > 0 || a.chance(0.1) {
		d.line(2, "relations: [%s]", strings.Join(list, ", "))
	}
}

func (d *drawn) relation(of, by string, x, y drawnRange) string {
	var points []string
	count := 2 + d.IntN(2)
	for k := range count {
		at := x.low + (x.high-x.low)*(0.1+float64(k)/float64(count)+d.between(0, 0.5)/float64(count))*0.9
		points = append(points, fmt.Sprintf("[%s, %s]", figure(at), figure(math.Max(y.low,
			math.Min(y.high, rounded(d.between(y.low, y.high)))))))
	}
	more := ""
	if by == "ri" {
		more = pick(d, "", ", ray: low", ", ray: mean", ", ray: high")
	}
	within := math.Max(1e-6, (y.high-y.low)*d.between(0.02, 0.6)*pick(d, 1.0, 1, 3))
	return fmt.Sprintf("{of: %s, by: %s%s, through: [%s], within: %s, source: drawn}", of, by, more,
		strings.Join(points, ", "), figure(within))
}
