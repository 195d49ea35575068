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
	excluding []int   // items that exclude something
	families  []familyWeight
	// likelihood is the sum of the families' contributions to a leaf, prior left out; log adds the prior. Leaves of
	// weight zero have neither.
	likelihood, log []float64
	above           []float64 // exp(log - top); 0 for leaves of weight zero
	unlistedAbove   float64   // the same of what the ruleset lacks
	sum             []float64 // of the family at hand: what all its groups say together
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

// familyWeight is one family's evidence, its groups in the order in which they came.
type familyWeight struct {
	family int
	groups []group
	first  int // of the groups that which counts in full, but for leaves that the family excludes
	// sum is what it contributes to the leaves of weight above zero, where several groups make it up.
	sum  []float64
	sums bool // they do
	says bool // some item says something of what the ruleset lacks
	// unlisted is what the family contributes to what the ruleset lacks.
	unlisted float64
	// What asking whether it supports a node needs, as far as it was asked: see ratiosOf.
	ratios          []float64
	ofAlive, ofZero bool
}

// group is the items that rest on the same readings: for each leaf one of them counts. Most have one item.
type group struct {
	first int // place of an item
	more  []int
	rank  int     // of the item that is first by name
	says  *vector // what counts for each leaf of weight above zero, and what it excludes: its only item's, or
	own   *vector // in memory of its own what several come to
}

// items are the places of its items, rising.
func (g *group) items(yield func(n int) bool) {
	if !yield(g.first) {
		return
	}
	for _, n := range g.more {
		if !yield(n) {
			return
		}
	}
}

// weight is that of a leaf in the softmax that counts doubts.
func (w *weights) weight(i int) float64 { return w.above[i] / w.whole }

// unlistedWeight is that of what the ruleset lacks in the same softmax.
func (w *weights) unlistedWeight() float64 { return w.unlistedAbove / w.whole }

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
		fw.first = j.strongest(w, fw)
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
	j.softmax(w)
}

// join works out what counts in a group, for all leaves of weight above zero.
func (j *Judge) join(w *weights, g *group) {
	if len(g.more) == 0 {
		if g.says = j.items[g.first].vector; !g.says.whole {
			j.fillAll(g.says, w)
		}
		return
	}
	whole := len(g.more) == 1 && j.items[g.first].whole && j.items[g.more[0]].whole
	of := [2]*vector{}
	if whole {
		of = [2]*vector{j.items[g.first].vector, j.items[g.more[0]].vector}
		if g.says = j.joined[of]; g.says != nil {
			return
		}
	}
	if g.own == nil {
		own := j.e.newMemory()
		g.own = &vector{own: own, c: own.c, excludes: own.excludes}
	}
	g.says = g.own
	clear(g.says.excludes)
	for n := range g.items {
		for k, word := range j.items[n].excludes {
			g.says.excludes[k] |= word
		}
	}
	g.says.rulesOut = !g.says.excludes.empty()
	if whole && len(j.joined) < mostJoined {
		for i := range j.e.leaves {
			g.says.c[i], _ = j.groupC(g, i)
		}
		g.says.whole = true
		g.says.layOut(j.e)
		j.joined[of], g.own = g.says, nil
		return
	}
	for _, i := range w.alive {
		g.says.c[i], _ = j.groupC(g, i)
	}
}

// mostJoined bounds how many groups of two are kept: the vectors of both are kept, and there are few such pairs.
const mostJoined = 4096

// width is how many leaves are added up at a time: what is said of all leaves has room for a multiple of it.
const width = 8

// numbers makes room for a number by leaf.
func (e *Engine) numbers() []float64 { return make([]float64, (e.leaves+width-1)/width*width) }

// addFamily adds what a family says to the likelihood of every leaf of weight above zero: familySum for all leaves at
// once, in the same order of adding up. What comes of leaves of weight zero is not looked at: a loop of one length
// whatever the case has no way that a processor could guess wrong.
func (j *Judge) addFamily(w *weights, f *familyWeight) {
	if f.sums = len(f.groups) > 1; !f.sums {
		addTo(w.likelihood, f.groups[0].says.c)
		return
	}
	if f.sum == nil {
		f.sum = j.e.numbers()
	}
	further := j.e.Ruleset.Policy.FurtherWeight
	f.addUp(w.sum)
	first, counts := f.groups[f.first].says.c, f.sum
	for i, sum := range w.sum {
		counts[i] = first[i] + further*(sum-first[i])
	}
	clear(w.out)
	for n := range f.groups {
		if g := &f.groups[n]; g.says.rulesOut {
			g.lowest(w)
		}
	}
	for k, word := range w.out {
		for ; word != 0; word &= word - 1 {
			i := k<<6 + bits.TrailingZeros64(word)
			counts[i] = w.lowest[i] + further*(w.sum[i]-w.lowest[i])
		}
	}
	addTo(w.likelihood, counts)
}

// addUp adds up what the groups of a family say of each leaf, one after another.
func (f *familyWeight) addUp(sums []float64) {
	for at := 0; at+width <= len(sums); at += width {
		var a, b, c, d, e, g, h, i float64
		for n := range f.groups {
			x := (*[width]float64)(f.groups[n].says.c[at:])
			a, b, c, d = a+x[0], b+x[1], c+x[2], d+x[3]
			e, g, h, i = e+x[4], g+x[5], h+x[6], i+x[7]
		}
		*(*[width]float64)(sums[at:]) = [width]float64{a, b, c, d, e, g, h, i}
	}
}

// addTo adds what is said to sums.
func addTo(sums, says []float64) {
	for len(sums) >= width && len(says) >= width {
		s, x := (*[width]float64)(sums), (*[width]float64)(says)
		s[0], s[1], s[2], s[3] = s[0]+x[0], s[1]+x[1], s[2]+x[2], s[3]+x[3]
		s[4], s[5], s[6], s[7] = s[4]+x[4], s[5]+x[5], s[6]+x[6], s[7]+x[7]
		sums, says = sums[width:], says[width:]
	}
}

// lowest finds the lowest that excludes each leaf of weight above zero.
func (g *group) lowest(w *weights) {
	c := g.says.c
	for k, word := range g.says.excludes {
		for word &^= w.zero[k]; word != 0; word &= word - 1 {
			if i := k<<6 + bits.TrailingZeros64(word); !w.out.has(i) || c[i] < w.lowest[i] {
				w.lowest[i] = c[i]
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
}

func appendBits(to []int, k int, word uint64) []int {
	for ; word != 0; word &= word - 1 {
		to = append(to, k<<6+bits.TrailingZeros64(word))
	}
	return to
}

// only is the item that makes up a family by itself, or nil.
func (j *Judge) only(f *familyWeight) *item {
	if len(f.groups) == 1 && len(f.groups[0].more) == 0 {
		return &j.items[f.groups[0].first]
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
		if !x.rulesOut {
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
		f.says = f.says || it.unlisted != 0
		f.put(j, n, it)
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
	fw.family, fw.groups, fw.says, fw.ofAlive, fw.ofZero = f, fw.groups[:0], false, false, false
	return fw
}

// put puts an item into the group that it belongs to.
func (f *familyWeight) put(j *Judge, n int, it *item) {
	// Items of readings come first, and the first place of an observable before the others.
	if it.rule != nil || it.place != "" || it.first != nil {
		for i := range f.groups {
			g := &f.groups[i]
			if o := &j.items[g.first]; o.key == it.key && o.place == it.place {
				g.more, g.rank = append(g.more, n), min(g.rank, it.rank)
				return
			}
		}
	}
	f.groups = extend(f.groups)
	g := &f.groups[len(f.groups)-1]
	g.first, g.more, g.rank = n, g.more[:0], it.rank
}

// extend makes a slice one longer, keeping the memory of what stood there.
func extend[T any](s []T) []T {
	if len(s) < cap(s) {
		return s[:len(s)+1]
	}
	var zero T
	return append(s, zero)
}

// groupC is what a group says of a leaf, and whether it excludes it: where one of its items excludes, the lowest
// excluding contribution, else the one furthest from 0.
func (j *Judge) groupC(g *group, i int) (c float64, excludes bool) {
	if len(g.more) == 0 {
		it := &j.items[g.first]
		return j.fill(it.vector, i), it.excludes.has(i)
	}
	for n := range g.items {
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

// familySum is what a family says of a leaf: its strongest group in full and the others at further weight; where it
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
		if out && (!excluded || c < full) || n == f.first && !excluded {
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
		if order := falling(c, largest); order < 0 || order == 0 && c > 0 && f.groups[n].rank < f.groups[first].rank {
			first, largest = n, c
		}
	}
	return first
}

// unlistedC is what a group says of what the ruleset lacks: the contribution of its items that is furthest from 0.
func (j *Judge) unlistedC(g *group) float64 {
	c := 0.0
	for n := range g.items {
		c = further(c, j.items[n].unlisted)
	}
	return c
}

// softmax turns log-weights into shares of what is not excluded, and the doubt that hangs on the exclusions.
func (j *Judge) softmax(w *weights) {
	prior := j.e.logPrior
	top := w.unlistedLog // of what is not excluded
	for _, i := range w.open {
		x := prior[i] + w.likelihood[i]
		if w.log[i] = x; x > top { // max would take its time over what is no number
			top = x
		}
	}
	w.top = top
	for _, i := range w.doubtful {
		x := prior[i] + w.likelihood[i]
		if w.log[i] = x; x > w.top {
			w.top = x
		}
	}
	free, doubtful := 0.0, 0.0
	for _, i := range w.open {
		x := math.Exp(w.log[i] - w.top)
		w.above[i], w.share[i] = x, x
		free += x
	}
	for _, i := range w.doubtful {
		x := math.Exp(w.log[i] - w.top)
		w.above[i] = x
		doubtful += x
	}
	w.unlistedAbove = math.Exp(w.unlistedLog - w.top)
	w.whole = free + doubtful + w.unlistedAbove
	w.doubt = doubtful / w.whole
	unlisted := w.unlistedAbove
	if top != w.top { // beside a doubtful leaf far above, the others would come to nothing
		free = 0
		for _, i := range w.open {
			w.share[i] = math.Exp(w.log[i] - top)
			free += w.share[i]
		}
		unlisted = math.Exp(w.unlistedLog - top)
	}
	free += unlisted
	for _, i := range w.open {
		w.share[i] /= free
	}
	w.unlisted = unlisted / free
}
