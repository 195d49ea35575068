package engine_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// materials draws a tree: a root, groups under it and under each other, leaves anywhere.
func (d *drawn) materials(leaves int) {
	d.line(0, "materials:")
	d.line(1, "- {group: everything, name: everything, seen_at_counter: common, origin: natural}")
	d.counter["everything"] = "common"
	above := map[string]string{"g0": "everything"}
	said := map[string]*drawnSheet{"everything": newDrawnSheet()}
	for i := range 2 + d.IntN(4) {
		id := fmt.Sprintf("g%d", i)
		if i > 0 {
			above[id] = pick(d, append([]string{"everything"}, d.groups...)...)
		}
		d.groups = append(d.groups, id)
		said[id] = d.sheet(id, "group", above[id], said[above[id]], 0.15, fmt.Sprintf("nameable: %t", d.chance(0.8)))
	}
	var under []string
	for range leaves - len(d.groups) {
		under = append(under, pick(d, append([]string{"everything"}, d.groups...)...))
	}
	for i, g := range append(slices.Clone(d.groups), under...) { // each group has a leaf
		id := fmt.Sprintf("m%d", i)
		d.leaves = append(d.leaves, id)
		origin := pick(d, "natural", "laboratory-grown", "imitation")
		if i == 0 {
			origin = "natural"
		}
		d.sheets[id] = d.sheet(id, "material", g, said[g], 0.75, "origin: "+origin)
	}
}

func newDrawnSheet() *drawnSheet {
	return &drawnSheet{ranges: map[string][2]float64{}, choices: map[string]map[string]string{}}
}

// sheet draws what one node says. What its group says of a property or an observable stands.
func (d *drawn) sheet(id, kind, under string, above *drawnSheet, much float64, more string) *drawnSheet {
	s := newDrawnSheet()
	for k, v := range above.ranges {
		s.ranges[k] = v
	}
	for k, v := range above.choices {
		s.choices[k] = v
	}
	d.line(1, "- %s: %s", kind, id)
	d.line(2, "name: name of %s", id)
	d.line(2, "under: %s", under)
	d.line(2, "%s", more)
	if d.chance(0.6) {
		d.counter[id] = pick(d, "everyday", "common", "occasional", "rare")
		d.line(2, "seen_at_counter: %s", d.counter[id])
	}
	d.line(2, "properties:")
	for _, p := range []string{"ri", "birefringence", "specific_gravity"} {
		if _, given := s.ranges[p]; !given && d.chance(much) {
			s.ranges[p] = d.property(p)
		}
	}
	d.line(2, "outcomes:")
	for _, o := range d.observed {
		if _, given := s.choices[o.name]; !given && o.kind == "choice" && d.chance(much) {
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

// property draws a range about one of a few centres, so that materials are often alike.
func (d *drawn) property(name string) [2]float64 {
	centre := map[string][]float64{"ri": {1.54, 1.62, 1.77, 2.16, 2.42}, "birefringence": {0, 0, 0.008, 0.03}, "specific_gravity": {2.65, 3.52, 3.9, 5.8}}[name]
	scale := map[string]float64{"ri": 0.01, "birefringence": 0.002, "specific_gravity": 0.05}[name]
	low := pick(d, centre...)
	if low > 0 {
		low += scale * d.NormFloat64()
	}
	low = math.Max(low, 0)
	high := low + scale*pick(d, 0, 0.05, 1, 3)*d.Float64()
	lo, hi := figure(low), figure(high)
	more := ""
	if d.chance(0.3) {
		t := []float64{d.Float64(), d.Float64()}
		slices.Sort(t)
		more = fmt.Sprintf(", typical: [%s, %s]", figure(low+1e-7+t[0]*math.Max(0, high-low-2e-7)), figure(low+1e-7+t[1]*math.Max(0, high-low-2e-7)))
		if high-low < 1e-5 {
			more = fmt.Sprintf(", typical: [%s, %s]", lo, hi)
		}
	}
	if d.chance(0.4) {
		more += ", tolerance: " + figure(scale*d.Float64())
	}
	d.line(3, "%s: {range: [%s, %s]%s, source: drawn}", name, lo, hi, more)
	return [2]float64{low, high}
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
	d.line(3, "%s: {seen: {%s}, source: drawn}", o.name, strings.Join(entries, ", "))
	return out
}
