package engine

import (
	"cmp"
	"math"
	"math/bits"
	"slices"

	"whystone/engine/phrase"
	"whystone/kb"
)

// candidates are the nodes that a stone may be narrowed to, column by column: each is looked at often, and few are
// taken.
type candidates struct {
	of           []int     // a leaf, or below zero a node: its index with all bits turned
	house, equal []float64 // shares at the house's priors and at equal ones
	share        []float64 // those of the two which count at the moment; below zero for one that is taken
}

func (c *candidates) empty() { c.of, c.house, c.equal = c.of[:0], c.house[:0], c.equal[:0] }

func (c *candidates) add(of int) int {
	c.of, c.house, c.equal = append(c.of, of), append(c.house, 0), append(c.equal, 0)
	return len(c.of) - 1
}

// material is the candidate's.
func (j *Judge) material(candidate int) *kb.Material {
	if of := j.joins.of[candidate]; of < 0 {
		return j.e.nodes[^of]
	}
	return j.leaf(j.joins.of[candidate])
}

// narrow finds the one to five nodes that hold the required share at the house's priors and at equal ones.
func (j *Judge) narrow(d *Decision) ([]*kb.Material, float64) {
	if j.trace == nil && j.plainlyTooMany(d) {
		d.TooMany = true
		return nil, 0
	}
	j.joinAlike()
	c := &j.joins
	c.share = append(c.share[:0], c.house...)
	if j.picked = j.picked[:0]; !j.take(d) {
		return nil, 0
	}
	j.equalShares()
	for _, i := range j.w.open {
		c.equal[j.joinOf[i]] += j.equal[i]
	}
	c.share = append(c.share[:0], c.equal...)
	if !j.take(d) {
		return nil, 0
	}
	taken := j.taken[:0]
	for _, n := range j.picked {
		taken = append(taken, j.material(n))
	}
	taken, by := j.beside(taken)
	if len(by) > 0 && (taken == nil || len(taken) > MaxNodes) {
		d.KeptBack = by
		if j.trace != nil {
			j.trace.add(false, j.keptBack(nil, by))
		}
		return nil, 0
	}
	held := j.held[:0]
	for _, m := range taken {
		held = append(held, holding{m, j.sumOver(m, j.w.share)})
	}
	j.held = held
	slices.SortFunc(held, func(a, b holding) int {
		return cmp.Or(falling(a.share, b.share), cmp.Compare(told(a.node).ID, told(b.node).ID))
	})
	total := 0.0
	for i := range held {
		taken[i] = held[i].node
		total += held[i].share
	}
	taken = j.alikeNodes(toldOnce(taken))
	j.trace.add(true, phrase.Reason{Code: phrase.NarrowEnough})
	return taken, total
}

// plainlyTooMany tells that no MaxNodes candidates can hold the required share, without making them: each lies below
// one topmost node, and even the foremost of these fall short by more than rounding. It need not see all such cases.
func (j *Judge) plainlyTooMany(d *Decision) bool {
	var most [MaxNodes]float64 // the largest shares, rising
	open := 0
	for _, n := range j.e.tops {
		x := j.nodeShare[n]
		if x > 0 {
			open++
		}
		if x <= most[0] {
			continue
		}
		k := 1
		for ; k < MaxNodes && most[k] < x; k++ {
			most[k-1] = most[k]
		}
		most[k-1] = x
	}
	held := 0.0
	for _, x := range most {
		held += x
	}
	return j.e.allTopped && open > MaxNodes && held < d.Required*(1-1e-9)
}

// holding is a node with the share that it holds.
type holding struct {
	node  *kb.Material
	share float64
}

// take takes candidates by falling share, beside those that are picked, until they hold the required share. It is false
// when they never do, or are too many.
func (j *Judge) take(d *Decision) bool {
	held := 0.0
	for _, n := range j.picked {
		held += j.joins.share[n]
		j.joins.share[n] = -1
	}
	for held < d.Required {
		best := j.foremostCandidate()
		switch {
		case best < 0:
			j.trace.add(false, phrase.Reason{Code: phrase.TooLittle})
			return false
		case len(j.picked) == MaxNodes:
			d.TooMany = true
			j.trace.add(false, phrase.Reason{Code: phrase.TooMany, Count: MaxNodes})
			return false
		}
		j.picked = append(j.picked, best)
		held += j.joins.share[best]
		j.joins.share[best] = -1
	}
	return true
}

// foremostCandidate is the first of those that are not taken, by falling share, then by id; or -1. Only what comes near
// the largest share is compared: that leaves more than what counts as alike.
func (j *Judge) foremostCandidate() int {
	largest := -1.0
	for _, x := range j.joins.share {
		if x > largest {
			largest = x
		}
	}
	best, near := -1, max(0, largest*(1-1e-9))
	for n, x := range j.joins.share {
		if x < near || best >= 0 && !j.comesBefore(n, best) {
			continue
		}
		best = n
	}
	return best
}

// comesBefore tells whether a candidate comes before another: by falling share, then by id.
func (j *Judge) comesBefore(a, b int) bool {
	order := falling(j.joins.share[a], j.joins.share[b])
	return order < 0 || order == 0 && told(j.material(a)).ID < told(j.material(b)).ID
}

// mostLists bounds how many lists of nodes a judge keeps.
const mostLists = 4096

// alikeNodes is one list for all that hold the same nodes in the same order: there are few.
func (j *Judge) alikeNodes(nodes []*kb.Material) []*kb.Material {
	var key [MaxNodes]*kb.Material
	copy(key[:], nodes)
	if was, ok := j.lists[key]; ok {
		return was
	}
	nodes = slices.Clone(nodes)
	if len(j.lists) < mostLists {
		j.lists[key] = nodes
	}
	return nodes
}

// falling orders numbers from the largest. Those that only the rounding of a sum sets apart are alike: topmost groups
// of unlike many leaves have the same equal prior, and the tie is for their names to break.
func falling(a, b float64) int {
	switch slack := 1e-12 * max(math.Abs(a), math.Abs(b)); {
	case a-b > slack:
		return -1
	case b-a > slack:
		return 1
	}
	return 0
}

func (j *Judge) sumOver(m *kb.Material, of []float64) float64 {
	sum := 0.0
	for _, i := range m.Leaves {
		sum += of[i]
	}
	return sum
}

// joinAlike makes candidates of the leaves without exclusion, of those that can't be told apart their group. First
// those of unlike origin become the group that holds several: how a stone grew is decided by exclusion alone. Then,
// from the lowest groups up, a nameable group stands for its leaves without exclusion when there are several and their
// likelihoods lie within a factor of 2 of each other.
func (j *Judge) joinAlike() {
	for _, i := range j.w.open {
		j.standing[i] = -1
	}
	for _, n := range j.e.mixed {
		if j.severalOpen(n) && j.growsUnlike(n) {
			j.standFor(n)
		}
	}
	for _, n := range j.e.groups {
		if j.severalOpen(n) && !j.stoodFor(n) && j.alike(n) {
			j.standFor(n)
		}
	}
	j.joins.empty()
	for _, i := range j.w.open {
		if n := j.standing[i]; n < 0 {
			j.joinOf[i] = j.joins.add(i)
		} else {
			if j.joinAt[n] < 0 {
				j.joinAt[n] = j.joins.add(^n)
			}
			j.joinOf[i] = j.joinAt[n]
		}
		j.joins.house[j.joinOf[i]] += j.w.share[i]
	}
}

// standFor lets the n-th node stand for its leaves without exclusion.
func (j *Judge) standFor(n int) {
	j.joinAt[n] = -1
	for _, i := range j.e.nodes[n].Leaves {
		j.standing[i] = n
	}
}

// stoodFor tells whether the n-th node, or one above it, stands for its leaves already.
func (j *Judge) stoodFor(n int) bool {
	for _, i := range j.e.nodes[n].Leaves {
		if j.w.free(i) {
			by := j.standing[i]
			return by >= 0 && j.e.nodes[n].Under(j.e.nodes[by])
		}
	}
	return false
}

// severalOpen tells whether two leaves or more of the n-th node are without exclusion.
func (j *Judge) severalOpen(n int) bool {
	several := 0
	for k, word := range j.e.within[n] {
		several += bits.OnesCount64(word &^ j.w.excluded[k])
	}
	return several > 1
}

// alike tells whether the likelihoods of the leaves of the n-th node without exclusion lie within a factor of 2.
func (j *Judge) alike(n int) bool {
	lo, hi := math.Inf(1), math.Inf(-1)
	for k, word := range j.e.within[n] {
		for word &^= j.w.excluded[k]; word != 0; word &= word - 1 {
			x := j.w.likelihood[k<<6+bits.TrailingZeros64(word)]
			lo, hi = min(lo, x), max(hi, x)
		}
	}
	return hi-lo <= math.Ln2
}

// equalShares are the shares under equal priors.
func (j *Judge) equalShares() {
	e, w := j.e, &j.w
	top := w.unlistedLog
	for _, i := range w.open {
		if x := e.equalPrior[i] + w.likelihood[i]; x > top {
			top = x
		}
	}
	sum := 0.0
	clear(j.equal)
	for _, i := range w.open {
		j.equal[i] = math.Exp(e.equalPrior[i] + w.likelihood[i] - top)
		sum += j.equal[i]
	}
	sum += math.Exp(w.unlistedLog - top)
	for _, i := range w.open {
		j.equal[i] /= sum
	}
}

// Told is the node by whose id output tells m: of a leaf without a sheet of its own, its group.
func Told(m *kb.Material) *kb.Material { return told(m) }

func told(m *kb.Material) *kb.Material {
	if m.Other {
		return m.Parent
	}
	return m
}

// toldOnce replaces nodes by those that name them, once each.
func toldOnce(nodes []*kb.Material) []*kb.Material {
	out := nodes[:0]
	for _, m := range nodes {
		if m = told(m); !slices.Contains(out, m) {
			out = append(out, m)
		}
	}
	return out
}
