package engine_test

import (
	"slices"
	"strings"
	"time"

	"whystone/kb/casefile"
)

// repeats: "inclusion-minimal sets of up to three readings without which the case, judged anew, is not contradictory; by
// size, then by falling sum of doubts, then by name."
func (v *opinion) repeats(on time.Time) {
	var readings []*casefile.Reading
	for _, r := range v.c.Readings {
		if r.Form != casefile.Inconclusive {
			readings = append(readings, r)
		}
	}
	resolves := map[int]bool{} // sets as bits
	v.repeat = [][]string{}
	for size := 1; size <= 3; size++ {
		var found [][]*casefile.Reading
		for set := range 1 << len(readings) {
			smaller := slices.ContainsFunc(keys(resolves), func(s int) bool { return s&set == s && s != set })
			if bitsOf(set) != size || smaller {
				continue
			}
			without := *v.c
			without.Readings = nil
			var left []*casefile.Reading
			for _, r := range v.c.Readings {
				if k := slices.Index(readings, r); k >= 0 && set>>k&1 == 1 {
					left = append(left, r)
				} else {
					without.Readings = append(without.Readings, r)
				}
			}
			again := v.weighs(&without, on)
			if again.faulty || !again.contradictory() {
				resolves[set] = true
				found = append(found, left)
			}
			v.unsure = v.unsure || again.close
		}
		v.rank(found)
	}
}

func keys(set map[int]bool) (out []int) {
	for k := range set {
		out = append(out, k)
	}
	return out
}

func bitsOf(set int) (n int) {
	for ; set > 0; set >>= 1 {
		n += set & 1
	}
	return n
}

// rank adds sets of one size "by falling sum of doubts, then by name".
func (v *opinion) rank(found [][]*casefile.Reading) {
	names := func(set []*casefile.Reading) string {
		var out []string
		for _, r := range set {
			out = append(out, r.Name())
		}
		slices.Sort(out)
		return strings.Join(out, "\x00")
	}
	before := v.close
	ordered(v.examined, found, func(set []*casefile.Reading) number {
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
// every weight is nought)." Of several contributions of one reading to a material the lowest tells; unlisted has c 0. What no
// sheet speaks of is no contribution.
func (v *opinion) doubtOf(r *casefile.Reading) number {
	whole := among(v.w.weight, func(int) bool { return true })
	sum := num(0)
	for i, weight := range v.w.weight {
		if weight == nil {
			continue
		}
		c, any := 0.0, false
		for _, ev := range v.list {
			if ev.said && i < len(ev.c) && slices.Contains(ev.from, r) && (!any || ev.c[i] < c) {
				c, any = ev.c[i], true
			}
		}
		sum = plus(sum, times(over(weight, whole), over(num(r.Blunder), exponential(num(c)))))
	}
	return sum
}
