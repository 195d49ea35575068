package engine

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"

	"whystone/kb/casefile"
)

// The search for what to repeat judges the case anew without each set. Beyond so many readings only pairs and single
// ones are tried, and beyond more only single ones.
const (
	maxForTriples = 30
	maxForPairs   = 100
)

// repeats finds the smallest sets of up to three readings without which a contradictory case would not be: by size,
// then by falling doubt, then by name. Where the stone is likely not on the list, they are those without which it need
// not be.
func (j *Judge) repeats(c *casefile.Case, on time.Time, of *Decision) [][]string {
	var usable []*casefile.Reading
	for _, r := range c.Readings {
		if r.Usable() {
			usable = append(usable, r)
		}
	}
	if j.sub == nil {
		j.sub = j.e.NewJudge()
	}
	largest := 3
	switch {
	case len(usable) > maxForPairs:
		largest = 1
	case len(usable) > maxForTriples:
		largest = 2
	}
	var found [][]*casefile.Reading
	for size := 1; size <= largest; size++ {
		Sets(len(usable), size, func(which []int) bool {
			set := make([]*casefile.Reading, size)
			for i, k := range which {
				set[i] = usable[k]
			}
			if slices.ContainsFunc(found, func(smaller []*casefile.Reading) bool { return contains(set, smaller) }) {
				return true
			}
			var d Decision
			j.sub.Decide(c.Without(func(r *casefile.Reading) bool { return slices.Contains(set, r) }), on, &d)
			if of.NotListed == NotListedLikely && d.Unlisted <= 0.5 || of.NotListed != NotListedLikely &&
				d.Class != Contradictory {
				found = append(found, set)
			}
			return true
		})
	}
	return j.ranked(found)
}

func contains(all, some []*casefile.Reading) bool {
	for _, r := range some {
		if !slices.Contains(all, r) {
			return false
		}
	}
	return true
}

// Sets calls f with every set of a size of n things, in order, until it returns false. f must not keep the set.
func Sets(n, size int, f func(set []int) bool) {
	set := make([]int, 0, size)
	var from func(i int) bool
	from = func(i int) bool {
		if len(set) == size {
			return f(set)
		}
		for ; i <= n-(size-len(set)); i++ {
			set = append(set, i)
			if !from(i + 1) {
				return false
			}
			set = set[:len(set)-1]
		}
		return true
	}
	from(0)
}

func (j *Judge) ranked(found [][]*casefile.Reading) [][]string {
	type ranked struct {
		names []string
		doubt float64
	}
	var list []ranked
	for _, set := range found {
		r := ranked{}
		for _, x := range set {
			r.names = append(r.names, x.Name())
			r.doubt += j.readingDoubt(x)
		}
		slices.Sort(r.names)
		list = append(list, r)
	}
	slices.SortStableFunc(list, func(a, b ranked) int {
		return cmp.Or(cmp.Compare(len(a.names), len(b.names)), falling(a.doubt, b.doubt),
			cmp.Compare(strings.Join(a.names, "\x00"), strings.Join(b.names, "\x00")))
	})
	out := [][]string{}
	for _, r := range list {
		out = append(out, r.names)
	}
	return out
}

// readingDoubt is the probability that a reading is a blunder: the sum over the leaves of weight times e / exp(c), in
// the softmax that counts doubts. Of a reading that makes several contributions to a leaf, the lowest tells.
func (j *Judge) readingDoubt(r *casefile.Reading) float64 {
	sum := j.w.unlistedWeight() * r.Blunder
	for i := range j.e.leaves {
		if j.w.zero.has(i) {
			continue
		}
		c := math.Inf(1)
		for n := range j.items {
			if it := &j.items[n]; !it.none && it.rule == nil && it.restsOn(r, i) {
				c = math.Min(c, j.fill(it.vector, i))
			}
		}
		if math.IsInf(c, 1) {
			c = 0
		}
		sum += j.w.weight(i) * r.Blunder / math.Exp(c)
	}
	return sum
}
