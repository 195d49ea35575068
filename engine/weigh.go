package engine

import (
	"math"
	"math/bits"
)

// weights are what all items together come to. Its memory is used again for the next case.
type weights struct {
	excluded  leafSet // by any item
	zero      leafSet // by two families and two tests: no weight at all
	alive     []int   // the leaves of weight above zero, rising
	open      []int   // those of them without exclusion, rising
	doubtful  []int   // the others of them, rising
	sparse    bool    // alive are few of all
	excluding []int   // items that exclude something
	families  []familyWeight
	// likelihood is the sum of the families' contributions to a leaf, prior left out; log adds the prior. Leaves of
	// weight zero have neither.
	likelihood, log []float64
	above           []float64 // exp(log - top); 0 for leaves of weight zero
	first, sum      []float64 // of the family at hand: what its first group says, and what all say together
	lowest          []float64 // the lowest that excludes a leaf
	out             leafSet   // the leaves that it excludes
	familyAt        []int     // by family: its place in families, from 1; 0: none
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
	// sum is what it contributes to the leaves of weight above zero, where several groups make it up.
	sum  []float64
	sums bool // they do
	says bool // some item says something of what the ruleset lacks
	// unlisted is what the family contributes to what the ruleset lacks.
	unlisted float64
}

// group is the items that rest on the same readings: for each leaf one of them counts.
type group struct {
	items  []int
	name   string
	spread float64
	// What counts for each leaf of weight above zero, and what it excludes: its only item's, or in memory of its own
	// what several come to.
	c        []float64
	excludes leafSet
	levels   levels // likewise, of an only item whose vector is whole
	own      *memory
}

// weight is that of a leaf in the softmax that counts doubts.
func (w *weights) weight(i int) float64 { return w.above[i] / w.whole }

// unlistedWeight is that of what the ruleset lacks in the same softmax.
func (w *weights) unlistedWeight() float64 { return math.Exp(w.unlistedLog-w.top) / w.whole }

// weigh works out all weights from the items.
func (j *Judge) weigh(w *weights) {
	j.masks(w)
	w.list(j.e.every)
	j.group(w)
	clear(w.likelihood)
	clear(w.log)
	clear(w.above)
	clear(w.share)
	w.unlistedSays = 0
	for f := range w.families {
		fw := &w.families[f]
		for n := range fw.groups {
			j.join(w, &fw.groups[n])
		}
		j.orderGroups(w, fw)
		j.addFamily(w, fw)
		fw.unlisted = j.unlistedSum(fw)
		w.unlistedSays += fw.unlisted
	}
	w.unlistedLog = j.e.unlisted + w.unlistedSays
	for k, word := range w.zero {
		for ; word != 0; word &= word - 1 {
			w.likelihood[k<<6+bits.TrailingZeros64(word)] = 0
		}
	}
	for _, i := range w.alive {
		w.log[i] = j.e.logPrior[i] + w.likelihood[i]
	}
	j.softmax(w)
}

// join works out what counts in a group, for all leaves of weight above zero.
func (j *Judge) join(w *weights, g *group) {
	if len(g.items) == 1 {
		it := &j.items[g.items[0]]
		if g.c, g.excludes, g.levels = it.c, it.excludes, it.levels; !it.whole {
			j.fillAll(it, w)
		}
		return
	}
	if g.own == nil {
		g.own = j.e.newMemory()
	}
	g.c, g.excludes, g.levels = g.own.c, g.own.excludes, nil
	clear(g.excludes)
	for _, n := range g.items {
		for k, word := range j.items[n].excludes {
			g.excludes[k] |= word
		}
	}
	for _, i := range w.alive {
		g.c[i], _ = j.groupC(g, i)
	}
}

// addFamily adds what a family says to the likelihood of every leaf of weight above zero: familySum for many leaves at
// once, in the same order of adding up.
func (j *Judge) addFamily(w *weights, f *familyWeight) {
	if f.sums = len(f.groups) > 1; !f.sums {
		f.groups[0].addTo(w.likelihood, w)
		return
	}
	if f.sum == nil {
		f.sum = make([]float64, j.e.leaves)
	}
	copy(w.first, f.groups[0].c)
	clear(w.sum)
	clear(w.out)
	for n := range f.groups {
		f.groups[n].addTo(w.sum, w)
		f.groups[n].lowest(w)
	}
	for k, word := range w.out {
		for ; word != 0; word &= word - 1 {
			i := k<<6 + bits.TrailingZeros64(word)
			w.first[i] = w.lowest[i]
		}
	}
	further := j.e.Ruleset.Policy.FurtherWeight
	if w.sparse {
		for _, i := range w.alive {
			f.sum[i] = w.first[i] + further*(w.sum[i]-w.first[i])
			w.likelihood[i] += f.sum[i]
		}
		return
	}
	first, sum, counts, likelihood := w.first, w.sum[:len(w.first)], f.sum[:len(w.first)], w.likelihood[:len(w.first)]
	for i := range first {
		counts[i] = first[i] + further*(sum[i]-first[i])
		likelihood[i] += counts[i]
	}
}

// addTo adds what a group says to the sums of all leaves, where many have weight. What comes of those of weight zero is
// not looked at: a loop of one length whatever the case has no way that a processor could guess wrong.
func (g *group) addTo(sum []float64, w *weights) {
	if w.sparse {
		for _, i := range w.alive {
			sum[i] += g.c[i]
		}
		return
	}
	c := g.c
	for len(sum) >= 4 && len(c) >= 4 {
		sum[0], sum[1], sum[2], sum[3] = sum[0]+c[0], sum[1]+c[1], sum[2]+c[2], sum[3]+c[3]
		sum, c = sum[4:], c[4:]
	}
	for i := range sum {
		sum[i] += c[i]
	}
}

// lowest finds the lowest that excludes each leaf of weight above zero.
func (g *group) lowest(w *weights) {
	for k, word := range g.excludes {
		for word &^= w.zero[k]; word != 0; word &= word - 1 {
			if i := k<<6 + bits.TrailingZeros64(word); !w.out.has(i) || g.c[i] < w.lowest[i] {
				w.lowest[i] = g.c[i]
				w.out.add(i)
			}
		}
	}
}

// list lists the leaves of weight above zero, with and without exclusion.
func (w *weights) list(all leafSet) {
	w.alive, w.open, w.doubtful = w.alive[:0], w.open[:0], w.doubtful[:0]
	for k, every := range all {
		w.alive = appendBits(w.alive, k, every&^w.zero[k])
		w.open = appendBits(w.open, k, every&^w.excluded[k])
		w.doubtful = appendBits(w.doubtful, k, w.excluded[k]&^w.zero[k])
	}
	w.sparse = 3*len(w.alive) < len(w.likelihood)
}

func appendBits(to []int, k int, word uint64) []int {
	for ; word != 0; word &= word - 1 {
		to = append(to, k<<6+bits.TrailingZeros64(word))
	}
	return to
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
	clear(w.zero)
	w.excluding = w.excluding[:0]
	for a := range j.items {
		x := &j.items[a]
		if x.excludes.empty() {
			continue
		}
		for _, b := range w.excluding {
			if y := &j.items[b]; x.family != y.family && !x.tests.Meets(y.tests) {
				for k := range w.zero {
					w.zero[k] |= x.excludes[k] & y.excludes[k]
				}
			}
		}
		w.excluding = append(w.excluding, a)
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
		g := f.group(j, it)
		g.items = append(g.items, n)
		if g.name == "" || it.name < g.name {
			g.name = it.name
		}
	}
	for i := range w.families {
		w.familyAt[w.families[i].family] = 0
	}
	for n := 1; n < len(w.families); n++ {
		for k := n; k > 0 && w.families[k].family < w.families[k-1].family; k-- {
			w.families[k], w.families[k-1] = w.families[k-1], w.families[k]
		}
	}
}

func (w *weights) family(f int) *familyWeight {
	if at := w.familyAt[f]; at > 0 {
		return &w.families[at-1]
	}
	w.families = extend(w.families)
	w.familyAt[f] = len(w.families)
	fw := &w.families[len(w.families)-1]
	*fw = familyWeight{family: f, groups: fw.groups[:0], sum: fw.sum}
	return fw
}

// group is the group that an item belongs to.
func (f *familyWeight) group(j *Judge, it *item) *group {
	for i := range f.groups {
		if it.rule == nil && it.place == "" && it.first == nil {
			break // items of readings come first, and the first place of an observable before the others
		}
		if o := &j.items[f.groups[i].items[0]]; o.key == it.key && o.place == it.place {
			return &f.groups[i]
		}
	}
	f.groups = extend(f.groups)
	g := &f.groups[len(f.groups)-1]
	*g = group{items: g.items[:0], own: g.own}
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
// unlisted stands among them with a contribution of 0, whatever rules say of it: so that with a single material left
// the strongest evidence still comes first, and not whatever is first by name.
func (j *Judge) orderGroups(w *weights, f *familyWeight) {
	if len(f.groups) < 2 {
		return
	}
	for n := range f.groups {
		g := &f.groups[n]
		lo, hi := 0.0, 0.0
		if g.levels != nil {
			lo, hi = g.levels.reach(w.excluded)
		} else {
			for _, i := range w.open {
				lo, hi = min(lo, g.c[i]), max(hi, g.c[i])
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
		return j.fill(it.vector, i), it.excludes.has(i)
	}
	for _, n := range g.items {
		it := &j.items[n]
		x := j.fill(it.vector, i)
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

// unlistedSum is what a family says of what the ruleset lacks. Only rules speak of it. It has no part in the order in
// which the family's evidence counts for the materials: its own largest contribution counts in full, each further one
// at further weight; of two alike the first by name is the largest.
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
		if w.log[i] > w.top { // max would take its time over what is no number
			w.top = w.log[i]
		}
	}
	for _, i := range w.open {
		if w.log[i] > top {
			top = w.log[i]
		}
	}
	w.whole = 0
	for _, i := range w.alive {
		x := math.Exp(w.log[i] - w.top)
		w.above[i] = x
		w.whole += x
	}
	doubtful := 0.0
	for _, i := range w.doubtful {
		doubtful += w.above[i]
	}
	if top == w.top {
		for _, i := range w.open {
			w.share[i] = w.above[i]
		}
	} else {
		for _, i := range w.open {
			w.share[i] = math.Exp(w.log[i] - top)
		}
	}
	free := 0.0
	for _, i := range w.open {
		free += w.share[i]
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
