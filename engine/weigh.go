package engine

import (
	"math"
	"math/bits"
)

// weights are what all items together come to. Its memory is used again for the next case.
type weights struct {
	excluded leafSet // by any item
	nought   leafSet // by two families and two tests: no weight at all
	alive    []int   // the leaves of weight above nought, rising
	open     []int   // those of them without exclusion, rising
	doubtful []int   // the others of them, rising
	families []familyWeight
	// likelihood is the sum of the families' contributions to a leaf, prior left out; log adds the prior. Leaves of
	// weight nought have neither.
	likelihood, log []float64
	above           []float64 // exp(log - top); 0 for leaves of weight nought
	sum             []float64 // of the family at hand
	out             leafSet   // those that it excludes
	share           []float64 // of leaves without exclusion; 0 for others
	unlisted        float64   // share of what the ruleset lacks
	unlistedSays    float64   // what the families contribute to it
	unlistedLog     float64   // that with its prior
	doubt           float64
	top             float64 // the largest of log, and the unlisted's
	whole           float64 // the sum of above, with the unlisted's
}

// familyWeight is one family's evidence, its groups in the order in which they count.
type familyWeight struct {
	family int
	groups []group
	tests  testSet
	says   bool // some item says something of what the ruleset lacks
	// unlisted is what the family contributes to what the ruleset lacks.
	unlisted float64
}

// group is the items that rest on the same readings: for each leaf one of them counts.
type group struct {
	items  []int
	name   string
	spread float64
}

// weight is that of a leaf in the softmax that counts doubts.
func (w *weights) weight(i int) float64 { return w.above[i] / w.whole }

// unlistedWeight is that of what the ruleset lacks in the same softmax.
func (w *weights) unlistedWeight() float64 { return math.Exp(w.unlistedLog-w.top) / w.whole }

// weigh works out all weights from the items.
func (j *Judge) weigh(w *weights) {
	j.masks(w)
	w.list(j.e.leaves)
	j.group(w)
	for f := range w.families {
		j.orderGroups(w, &w.families[f])
	}
	clear(w.likelihood)
	clear(w.log)
	clear(w.above)
	clear(w.share)
	w.unlistedSays = 0
	for f := range w.families {
		fw := &w.families[f]
		j.addFamily(w, fw)
		fw.unlisted = j.unlistedSum(fw)
		w.unlistedSays += fw.unlisted
	}
	w.unlistedLog = j.e.unlisted + w.unlistedSays
	for _, i := range w.alive {
		w.log[i] = j.e.logPrior[i] + w.likelihood[i]
	}
	j.softmax(w)
}

// addFamily adds what a family says to the likelihood of every leaf of weight above nought.
func (j *Judge) addFamily(w *weights, f *familyWeight) {
	if it := j.only(f); it != nil {
		j.fillAll(it, w)
		for _, i := range w.alive {
			w.likelihood[i] += it.c[i]
		}
		return
	}
	if single(f) {
		j.addSingle(w, f)
		return
	}
	for _, i := range w.alive {
		w.likelihood[i] += j.familySum(f, i)
	}
}

// single tells whether each group of a family is one item.
func single(f *familyWeight) bool {
	for n := range f.groups {
		if len(f.groups[n].items) > 1 {
			return false
		}
	}
	return true
}

// addSingle is addFamily for a family of single items: familySum for many leaves at once, in the same order of adding up, save for
// the leaves that the family excludes.
func (j *Judge) addSingle(w *weights, f *familyWeight) {
	sum, excludes := w.sum, w.out
	clear(sum)
	clear(excludes)
	for n := range f.groups {
		it := &j.items[f.groups[n].items[0]]
		on := w.alive
		if it.from != nil && it.from.whole {
			on = it.from.touches // it says 0 of all others; what it says of leaves of weight nought is not looked at
		} else {
			j.fillAll(it, w)
		}
		c := it.c[:len(sum)]
		for _, i := range on {
			sum[i] += c[i]
		}
		for k, word := range it.excludes {
			excludes[k] |= word
		}
	}
	further := j.e.Ruleset.Policy.FurtherWeight
	full := j.items[f.groups[0].items[0]].c
	for _, i := range w.open {
		w.likelihood[i] += full[i] + further*(sum[i]-full[i])
	}
	for _, i := range w.doubtful {
		if excludes.has(i) {
			w.likelihood[i] += j.familySum(f, i)
		} else {
			w.likelihood[i] += full[i] + further*(sum[i]-full[i])
		}
	}
}

// list lists the leaves of weight above nought, with and without exclusion.
func (w *weights) list(leaves int) {
	w.alive, w.open, w.doubtful = w.alive[:0], w.open[:0], w.doubtful[:0]
	for k, word := range w.nought {
		for left := ^word; left != 0; left &= left - 1 {
			i := k<<6 + bits.TrailingZeros64(left)
			if i >= leaves {
				break
			}
			w.alive = append(w.alive, i)
			if w.excluded.has(i) {
				w.doubtful = append(w.doubtful, i)
			} else {
				w.open = append(w.open, i)
			}
		}
	}
}

// only is the item that makes up a family by itself, or nil.
func (j *Judge) only(f *familyWeight) *item {
	if len(f.groups) == 1 && len(f.groups[0].items) == 1 {
		return &j.items[f.groups[0].items[0]]
	}
	return nil
}

// masks finds which leaves are excluded, and which of them by two families and two tests. Two exclusions count as such
// when no single test stands behind both: one mistaken test can't explain them.
func (j *Judge) masks(w *weights) {
	clear(w.excluded)
	clear(w.nought)
	for a := range j.items {
		x := &j.items[a]
		if x.excludes.empty() {
			continue
		}
		for b := range a {
			y := &j.items[b]
			if x.family == y.family || x.tests.Meets(y.tests) {
				continue
			}
			for k := range w.nought {
				w.nought[k] |= x.excludes[k] & y.excludes[k]
			}
		}
		for k := range w.excluded {
			w.excluded[k] |= x.excludes[k]
		}
	}
}

// group sorts the items into families, and those that rest on the same readings together.
func (j *Judge) group(w *weights) {
	w.families = w.families[:0]
	for n := range j.items {
		it := &j.items[n]
		if it.none {
			continue
		}
		f := w.family(it.family)
		f.tests.Union(it.tests)
		f.says = f.says || it.unlisted != 0
		g := f.group(j, it, it.from != nil && it.place == "")
		g.items = append(g.items, n)
		if g.name == "" || it.name < g.name {
			g.name = it.name
		}
	}
	for n := 1; n < len(w.families); n++ {
		for k := n; k > 0 && w.families[k].family < w.families[k-1].family; k-- {
			w.families[k], w.families[k-1] = w.families[k-1], w.families[k]
		}
	}
}

func (w *weights) family(f int) *familyWeight {
	for i := range w.families {
		if w.families[i].family == f {
			return &w.families[i]
		}
	}
	w.families = extend(w.families)
	fw := &w.families[len(w.families)-1]
	*fw = familyWeight{family: f, groups: fw.groups[:0]}
	return fw
}

// group is the group that an item belongs to, a new one if the item is known to be the first that rests on its readings: items of
// readings come before those of rules, and the first place of an observable before the others.
func (f *familyWeight) group(j *Judge, it *item, first bool) *group {
	for i := 0; i < len(f.groups) && !first; i++ {
		if o := &j.items[f.groups[i].items[0]]; o.key == it.key && o.place == it.place {
			return &f.groups[i]
		}
	}
	f.groups = extend(f.groups)
	g := &f.groups[len(f.groups)-1]
	*g = group{items: g.items[:0]}
	return g
}

// extend makes a slice one longer, keeping the memory of what stood there.
func extend[T any](s []T) []T {
	if len(s) < cap(s) {
		return s[:len(s)+1]
	}
	var zero T
	return append(s, zero)
}

// orderGroups puts first what spreads the leaves without exclusion most; of two alike the first by name. What is
// unlisted stands among them with a contribution of 0, whatever rules say of it: so that with a single material left the
// strongest evidence still comes first, and not whatever is first by name.
func (j *Judge) orderGroups(w *weights, f *familyWeight) {
	if len(f.groups) < 2 {
		return
	}
	for n := range f.groups {
		g := &f.groups[n]
		lo, hi := 0.0, 0.0
		if len(g.items) == 1 {
			it := &j.items[g.items[0]]
			if it.from != nil && it.from.whole {
				lo, hi = it.from.reach(w.excluded)
			} else {
				j.fillAll(it, w)
				for _, i := range w.open {
					lo, hi = min(lo, it.c[i]), max(hi, it.c[i])
				}
			}
		} else {
			for _, i := range w.open {
				c, _ := j.groupC(g, i)
				lo, hi = min(lo, c), max(hi, c)
			}
		}
		if g.spread = hi - lo; g.spread < 1e-12 {
			g.spread = 0 // where a contribution should be 0, rounding leaves less
		}
	}
	for n := 1; n < len(f.groups); n++ { // they are few: a stable sort by insertion
		for k := n; k > 0 && f.groups[k].before(&f.groups[k-1]); k-- {
			f.groups[k], f.groups[k-1] = f.groups[k-1], f.groups[k]
		}
	}
}

// before tells whether a group spreads the leaves more than another; of two alike, whether it is the first by name.
func (g *group) before(o *group) bool {
	order := falling(g.spread, o.spread)
	return order < 0 || order == 0 && g.name < o.name
}

// groupC is what a group says of a leaf, and whether it excludes it: where one of its items excludes, the lowest
// excluding contribution, else the one furthest from 0.
func (j *Judge) groupC(g *group, i int) (c float64, excludes bool) {
	if len(g.items) == 1 {
		it := &j.items[g.items[0]]
		return j.fill(it, i), it.excludes.has(i)
	}
	for _, n := range g.items {
		it := &j.items[n]
		x := j.fill(it, i)
		switch out := it.excludes.has(i); {
		case out && (!excludes || x < c):
			c, excludes = x, true
		case !out && !excludes:
			c = further(c, x)
		}
	}
	return c, excludes
}

// familySum is what a family says of a leaf: its first group in full and the others at further weight; where it
// excludes the leaf, its lowest excluding contribution in full and the others at further weight.
func (j *Judge) familySum(f *familyWeight, i int) float64 {
	if len(f.groups) == 1 {
		c, _ := j.groupC(&f.groups[0], i)
		return c
	}
	full, sum, excluded := 0.0, 0.0, false
	for n := range f.groups {
		c, out := j.groupC(&f.groups[n], i)
		sum += c
		if out && (!excluded || c < full) || n == 0 {
			full, excluded = c, out
		}
	}
	return full + j.e.Ruleset.Policy.FurtherWeight*(sum-full)
}

// unlistedSum is what a family says of what the ruleset lacks. Only rules speak of it. It has no part in the order in which
// the family's evidence counts for the materials: its own largest contribution counts in full, each further one at further
// weight; of two alike the first by name is the largest.
func (j *Judge) unlistedSum(f *familyWeight) float64 {
	if !f.says {
		return 0
	}
	full, sum := 0.0, 0.0
	first := j.firstForUnlisted(f)
	for n := range f.groups {
		c := j.unlistedC(&f.groups[n])
		if sum += c; n == first {
			full = c
		}
	}
	return full + j.e.Ruleset.Policy.FurtherWeight*(sum-full)
}

// firstForUnlisted is the group of a family that counts in full for what the ruleset lacks.
func (j *Judge) firstForUnlisted(f *familyWeight) int {
	first, largest := 0, 0.0
	for n := range f.groups {
		c := math.Abs(j.unlistedC(&f.groups[n]))
		if order := falling(c, largest); order < 0 || order == 0 && c > 0 && f.groups[n].name < f.groups[first].name {
			first, largest = n, c
		}
	}
	return first
}

// unlistedC is what a group says of what the ruleset lacks: the contribution of its items that is furthest from 0.
func (j *Judge) unlistedC(g *group) float64 {
	c := 0.0
	for _, n := range g.items {
		c = further(c, j.items[n].unlisted)
	}
	return c
}

// softmax turns log-weights into shares of what is not excluded, and the doubt that hangs on the exclusions.
func (j *Judge) softmax(w *weights) {
	w.top = w.unlistedLog
	top := w.unlistedLog // of what is not excluded: beside a doubtful leaf far above, its shares would vanish
	for _, i := range w.alive {
		w.top = max(w.top, w.log[i])
	}
	for _, i := range w.open {
		top = max(top, w.log[i])
	}
	free, doubtful := 0.0, 0.0
	w.whole = 0
	for _, i := range w.alive {
		x := math.Exp(w.log[i] - w.top)
		w.above[i] = x
		w.whole += x
		if w.excluded.has(i) {
			doubtful += x
			continue
		}
		if top != w.top {
			x = math.Exp(w.log[i] - top)
		}
		w.share[i] = x
		free += x
	}
	unlisted := math.Exp(w.unlistedLog - top)
	free += unlisted
	w.whole += math.Exp(w.unlistedLog - w.top)
	for _, i := range w.open {
		w.share[i] /= free
	}
	w.unlisted = unlisted / free
	w.doubt = doubtful / w.whole
}
