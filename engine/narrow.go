package engine

import (
	"cmp"
	"math"
	"math/bits"
	"slices"

	"whystone/engine/phrase"
	"whystone/kb"
)

// candidate is a node that a stone may be narrowed to, with its share at the house's priors and at equal ones.
type candidate struct {
	node         *kb.Material
	house, equal float64
	share        float64 // that of the two which counts at the moment
	taken        bool
}

// narrow finds the one to five nodes that hold the required share at the house's priors and at equal ones.
func (j *Judge) narrow(d *Decision) ([]*kb.Material, float64) {
	j.join()
	for i := range j.joins {
		j.joins[i].share = j.joins[i].house
	}
	taken, ok := j.take(d, nil)
	if !ok {
		return nil, 0
	}
	j.equalShares()
	for _, i := range j.w.open {
		j.joins[j.joinOf[i]].equal += j.equal[i]
	}
	for i := range j.joins {
		j.joins[i].share = j.joins[i].equal
	}
	if taken, ok = j.take(d, taken); !ok {
		return nil, 0
	}
	taken, by := j.beside(taken)
	if len(by) > 0 && (taken == nil || len(taken) > MaxNodes) {
		d.KeptBack = by
		if j.trace != nil {
			j.trace.add(false, j.keptBack(nil, by))
		}
		return nil, 0
	}
	house := func(m *kb.Material) float64 { return j.sumOver(m, j.w.share) }
	slices.SortFunc(taken, func(a, b *kb.Material) int {
		return cmp.Or(falling(house(a), house(b)), cmp.Compare(told(a).ID, told(b).ID))
	})
	total := 0.0
	for _, m := range taken {
		total += house(m)
	}
	taken = j.alikeNodes(toldOnce(taken))
	j.trace.add(true, phrase.Reason{Code: phrase.NarrowEnough})
	return taken, total
}

// take takes candidates by falling share, beside those that are taken, until they hold the required share. It is not ok when
// they never do, or are too many.
func (j *Judge) take(d *Decision, taken []*kb.Material) ([]*kb.Material, bool) {
	held := 0.0
	for _, m := range taken {
		held += j.candidate(m).share
	}
	if taken == nil {
		taken = j.taken[:0]
	}
	for held < d.Required {
		var best *candidate
		for i := range j.joins {
			if c := &j.joins[i]; !c.taken && (best == nil || c.before(best)) {
				best = c
			}
		}
		switch {
		case best == nil:
			j.trace.add(false, phrase.Reason{Code: phrase.TooLittle})
			return nil, false
		case len(taken) == MaxNodes:
			d.TooMany = true
			j.trace.add(false, phrase.Reason{Code: phrase.TooMany, Count: MaxNodes})
			return nil, false
		}
		best.taken = true
		taken = append(taken, best.node)
		held += best.share
	}
	return taken, true
}

func (j *Judge) candidate(m *kb.Material) *candidate {
	return &j.joins[slices.IndexFunc(j.joins, func(c candidate) bool { return c.node == m })]
}

// before tells whether a candidate comes before another: by falling share, then by id.
func (c *candidate) before(o *candidate) bool {
	order := falling(c.share, o.share)
	return order < 0 || order == 0 && told(c.node).ID < told(o.node).ID
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

// falling orders numbers from the largest. Those that only the rounding of a sum sets apart are alike: topmost groups of
// unlike many leaves have the same equal prior, and the tie is for their names to break.
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

// join makes candidates of the leaves without exclusion, of those that can't be told apart their group. First those of unlike
// origin become the group that holds several: how a stone grew is decided by exclusion alone. Then, from the lowest groups up,
// a nameable group stands for its leaves without exclusion when there are several and their likelihoods lie within a factor of
// 2 of each other.
func (j *Judge) join() {
	for _, i := range j.w.open {
		j.standing[i] = -1
	}
	for _, n := range j.e.groups {
		if j.severalOpen(n) && j.growsUnlike(n) {
			j.standFor(n)
		}
	}
	for _, n := range j.e.groups {
		if j.severalOpen(n) && !j.stoodFor(n) && j.alike(j.e.nodes[n]) {
			j.standFor(n)
		}
	}
	j.joins = j.joins[:0]
	for _, i := range j.w.open {
		n := j.standing[i]
		if n < 0 {
			j.joinOf[i] = len(j.joins)
			j.joins = append(j.joins, candidate{node: j.leaf(i)})
		} else {
			j.joinOf[i] = slices.IndexFunc(j.joins, func(c candidate) bool { return c.node == j.e.nodes[n] })
			if j.joinOf[i] < 0 {
				j.joinOf[i] = len(j.joins)
				j.joins = append(j.joins, candidate{node: j.e.nodes[n]})
			}
		}
		j.joins[j.joinOf[i]].house += j.w.share[i]
	}
}

// standFor lets the n-th node stand for its leaves without exclusion.
func (j *Judge) standFor(n int) {
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

func (j *Judge) alike(g *kb.Material) bool {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, i := range g.Leaves {
		if j.w.free(i) {
			lo, hi = min(lo, j.w.likelihood[i]), max(hi, j.w.likelihood[i])
		}
	}
	return hi-lo <= math.Ln2
}

// equalShares are the shares under equal priors.
func (j *Judge) equalShares() {
	e, w := j.e, &j.w
	top := w.unlistedLog
	for _, i := range w.open {
		top = max(top, e.equalPrior[i]+w.likelihood[i])
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
