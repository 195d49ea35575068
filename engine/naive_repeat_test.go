package engine_test

import (
	"math/bits"
	"slices"
	"strings"
)

// repeats: "inclusion-minimal sets of up to three readings without which the case, judged anew, is not contradictory;
// by size, then by falling sum of doubts, then by name."
func (v *opinion) repeats(resolved func(again *opinion) bool) {
	var readings []*naiveReading
	for _, r := range v.c.readings {
		if r.usable() {
			readings = append(readings, r)
		}
	}
	var found []int // sets as bits
	v.repeat = [][]string{}
	for size := 1; size <= 3; size++ {
		var left [][]*naiveReading
		for s := range 1 << len(readings) {
			smaller := slices.ContainsFunc(found, func(f int) bool { return f&s == f && f != s })
			if bits.OnesCount(uint(s)) != size || smaller {
				continue
			}
			without := *v.c
			without.readings = nil
			var gone []*naiveReading
			for _, r := range v.c.readings {
				if k := slices.Index(readings, r); k >= 0 && s>>k&1 == 1 {
					gone = append(gone, r)
				} else {
					without.readings = append(without.readings, r)
				}
			}
			again := v.weighs(&without, v.on)
			if resolved(again) {
				found = append(found, s)
				left = append(left, gone)
			}
			v.unsure = v.unsure || again.close
		}
		v.rank(left)
	}
}

// rank adds sets of one size "by falling sum of doubts, then by name".
func (v *opinion) rank(found [][]*naiveReading) {
	names := func(set []*naiveReading) string {
		var out []string
		for _, r := range set {
			out = append(out, r.name())
		}
		slices.Sort(out)
		return strings.Join(out, "\x00")
	}
	before := v.close
	ordered(v.examined, found, func(set []*naiveReading) number {
		sum := num(0)
		for _, r := range set {
			sum = plus(sum, v.doubtOf(r))
		}
		return sum
	}, names)
	v.unsure, v.close = v.unsure || v.close, before
	for _, set := range found {
		v.repeat = append(v.repeat, strings.Split(names(set), "\x00"))
	}
}

// doubtOf: "A reading's doubt is the sum over m of share(m) e / exp(c_m) in the softmax that counts doubt (e itself if
// every weight is zero)." Of several contributions of one reading to a material the lowest tells; a reading says
// nothing of what is unlisted. What no sheet speaks of is no contribution.
func (v *opinion) doubtOf(r *naiveReading) number {
	sum := num(0)
	for i, weight := range v.w.weight {
		if weight == nil {
			continue
		}
		c, any := 0.0, false
		for _, ev := range v.list {
			if ev.said && ev.restsOn(r, i) && (!any || ev.c[i] < c) {
				c, any = ev.c[i], true
			}
		}
		sum = plus(sum, times(over(weight, v.w.whole()), over(num(r.blunder), exponential(num(c)))))
	}
	return sum
}
