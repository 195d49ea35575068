package engine_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// materials draws a tree: a root, groups under it and under each other, some with others, leaves anywhere.
func (d *drawn) materials(leaves int) {
	d.line(0, "materials:")
	d.line(1, "- {group: everything, name: everything, seen_at_counter: common%s, origin: natural}",
		pick(d, "", ", grown: none known", ", grown: listed"))
	d.above["g0"] = "everything"
	said := map[string]*drawnSheet{"everything": newDrawnSheet()}
	named := map[string]bool{} // groups at or above which one is nameable
	for i := range 2 + d.IntN(4) {
		id := fmt.Sprintf("g%d", i)
		if i > 0 {
			d.above[id] = pick(d, append([]string{"everything"}, d.groups...)...)
		}
		d.groups = append(d.groups, id)
		nameable, others := d.chance(0.8), ""
		// others are told by a group that may be named
		if named[id] = nameable || named[d.above[id]]; named[id] && d.chance(0.4) {
			others = d.others()
		}
		said[id] = d.sheet(id, "group", d.above[id], said[d.above[id]], 0.15, fmt.Sprintf("nameable: %t", nameable),
			others)
	}
	var under []string
	for range leaves - len(d.groups) {
		under = append(under, pick(d, append([]string{"everything"}, d.groups...)...))
	}
	for i, g := range append(slices.Clone(d.groups), under...) { // each group has a leaf
		id := fmt.Sprintf("m%d", i)
		d.leaves, d.above[id] = append(d.leaves, id), g
		origin := pick(d, "natural", "natural", "laboratory-grown", "imitation", "assembled")
		if i == 0 {
			origin = "natural"
		}
		d.sheets[id] = d.sheet(id, "material", g, said[g], 0.75, "origin: "+origin, "")
	}
}

// others are members of a group without a sheet of their own.
func (d *drawn) others() string {
	var list []string
	for _, origin := range some(d, []string{"natural", "laboratory-grown", "imitation"}, 1+d.IntN(2)) {
		list = append(list, fmt.Sprintf("{origin: %s, seen_at_counter: %s}", origin,
			pick(d, "common", "occasional", "rare")))
	}
	return strings.Join(list, ", ")
}

func newDrawnSheet() *drawnSheet {
	return &drawnSheet{ranges: map[string]drawnRange{}, choices: map[string]map[string]string{}}
}

// sheet draws what one node says. What its group says of a property or an observable stands, or is narrowed.
func (d *drawn) sheet(id, kind, under string, above *drawnSheet, much float64, more, others string) *drawnSheet {
	s := newDrawnSheet()
	for k, v := range above.ranges {
		s.ranges[k] = v
	}
	for k, v := range above.choices {
		s.choices[k] = v
	}
	d.line(1, "- %s: %s", kind, id)
	d.line(2, "name: name of %s", id)
	d.line(2, "also: [trade name of %s]", id)
	d.line(2, "under: %s", under)
	d.line(2, "%s", more)
	if d.chance(0.6) {
		d.line(2, "seen_at_counter: %s", pick(d, "everyday", "common", "occasional", "rare"))
	}
	if d.chance(0.35) {
		d.line(2, "grown: %s", pick(d, "none known", "listed", "not listed"))
	}
	switch d.IntN(4) {
	case 0:
		d.line(2, "in_verdicts: %s, in words", id)
	case 1:
		colours := some(d, []string{"red", "pink", "green", "reddish"}, 2)
		d.line(2, "in_verdicts: [{colour: [%s], says: one %s}, {colour: [%s], says: another %s}%s]", colours[0], id,
			colours[1], id, pick(d, "", ", {says: any "+id+"}"))
	}
	if others != "" {
		d.line(2, "others: [%s]", others)
	}
	d.line(2, "properties:")
	for _, p := range []string{"ri", "birefringence", "specific_gravity"} {
		given, is := s.ranges[p]
		if must := others != "" && p != "birefringence"; is && (must || d.chance(0.25)) {
			s.ranges[p] = d.property(p, &given)
		} else if !is && (must || d.chance(much)) {
			s.ranges[p] = d.property(p, nil)
		}
	}
	d.relations(s)
	d.line(2, "outcomes:")
	for _, o := range d.observed {
		if _, given := s.choices[o.name]; (!given || d.chance(0.1)) && o.kind == "choice" && d.chance(much) {
			s.choices[o.name] = d.frequencies(o)
		}
	}
	d.line(2, "features:")
	for _, o := range d.observed {
		if _, given := s.choices[o.name]; !given && o.kind == "features" && d.chance(much) {
			s.choices[o.name] = d.frequencies(o)
		}
	}
	return s
}

// property draws a range about one of a few centres, so that materials are often alike, or one within its group's.
func (d *drawn) property(name string, within *drawnRange) drawnRange {
	centre := map[string][]float64{"ri": {1.54, 1.62, 1.77, 2.16, 2.42}, "birefringence": {0, 0, 0.008, 0.03},
		"specific_gravity": {2.65, 3.52, 3.9, 5.8}}[name]
	scale := map[string]float64{"ri": 0.01, "birefringence": 0.002, "specific_gravity": 0.05}[name]
	low := pick(d, centre...)
	if low > 0 {
		low += scale * d.NormFloat64()
	}
	low = math.Max(low, 0)
	high := low + scale*pick(d, 0, 0.05, 1, 3)*d.Float64()
	if within != nil {
		low, high = within.low, within.low+(within.high-within.low)*pick(d, 1, d.Float64())
	}
	r := drawnRange{low: rounded(low), high: rounded(high)}
	more := ""
	if d.chance(0.3) {
		t := []float64{d.Float64(), d.Float64()}
		slices.Sort(t)
		more = fmt.Sprintf(", typical: [%s, %s]", figure(low+1e-7+t[0]*math.Max(0, high-low-2e-7)),
			figure(low+1e-7+t[1]*math.Max(0, high-low-2e-7)))
		if high-low < 1e-5 {
			more = fmt.Sprintf(", typical: [%s, %s]", figure(r.low), figure(r.high))
		}
	}
	if d.chance(0.4) {
		r.tolerance = rounded(scale * d.Float64())
		more += ", tolerance: " + figure(r.tolerance)
	}
	d.line(3, "%s: {range: [%s, %s]%s, source: drawn}", name, figure(r.low), figure(r.high), more)
	return r
}

var frequencyWords = []string{"always", "usually", "often", "sometimes", "rarely", "never"}

// frequencies draws how often some outcomes are seen. They are never all never.
func (d *drawn) frequencies(o drawnObservable) map[string]string {
	var plain []string
	for _, w := range o.words {
		if w != "two rays" && w != "reddish" {
			plain = append(plain, w)
		}
	}
	out := map[string]string{}
	if o.kind == "choice" && d.chance(0.3) {
		w := pick(d, plain...)
		d.line(3, "%s: {seen: %s, source: drawn}", o.name, w)
		out[w] = "always"
		return out
	}
	var entries []string
	for i, w := range some(d, plain, 1+d.IntN(len(plain))) {
		out[w] = pick(d, frequencyWords...)
		if i == 0 && o.kind == "choice" {
			out[w] = pick(d, frequencyWords[:4]...)
		}
		entries = append(entries, w+": "+out[w])
	}
	more := ""
	for _, w := range o.words {
		if o.strengths != nil && out[w] != "" && out[w] != "never" && d.chance(0.3) {
			more = fmt.Sprintf(", strength: {%s: %s}", w, pick(d, "faint", "{strong: usually, faint: rarely}", "{distinct: never}"))
		}
	}
	d.line(3, "%s: {seen: {%s}, source: drawn%s}", o.name, strings.Join(entries, ", "), more)
	return out
}
