package engine

import (
	"cmp"
	"math"
	"slices"

	"whystone/engine/phrase"
	"whystone/kb"
)

// narrow finds the one to five nodes that hold the required share at the house's priors and at equal ones.
func (j *Judge) narrow(d *Decision) ([]*kb.Material, float64) {
	nodes := j.joined()
	house := func(m *kb.Material) float64 { return j.sumOver(m, j.w.share) }
	j.equalShares()
	equal := func(m *kb.Material) float64 { return j.sumOver(m, j.equal) }
	var taken []*kb.Material
	for _, share := range []func(*kb.Material) float64{house, equal} {
		slices.SortFunc(nodes, func(a, b *kb.Material) int {
			return cmp.Or(falling(share(a), share(b)), cmp.Compare(told(a).ID, told(b).ID))
		})
		held := 0.0
		for _, m := range taken {
			held += share(m)
		}
		for _, m := range nodes {
			if held >= d.Required {
				break
			}
			if slices.Contains(taken, m) {
				continue
			}
			if len(taken) == MaxNodes {
				d.TooMany = true
				j.trace.add(false, phrase.Reason{Code: phrase.TooMany, Count: MaxNodes})
				return nil, 0
			}
			taken = append(taken, m)
			held += share(m)
		}
		if held < d.Required {
			j.trace.add(false, phrase.Reason{Code: phrase.TooLittle})
			return nil, 0
		}
	}
	taken, by := j.beside(taken)
	if len(by) > 0 && (taken == nil || len(taken) > MaxNodes) {
		d.KeptBack = by
		if j.trace != nil {
			j.trace.add(false, j.keptBack(nil, by))
		}
		return nil, 0
	}
	slices.SortFunc(taken, func(a, b *kb.Material) int {
		return cmp.Or(falling(house(a), house(b)), cmp.Compare(told(a).ID, told(b).ID))
	})
	total := 0.0
	for _, m := range taken {
		total += house(m)
	}
	taken = toldOnce(taken)
	j.trace.add(true, phrase.Reason{Code: phrase.NarrowEnough})
	return taken, total
}

// falling orders numbers from the largest. Those that only the rounding of a sum sets apart are alike: topmost groups of
// unlike many leaves have the same equal prior, and the tie is for their names to break.
func falling(a, b float64) int {
	if math.Abs(a-b) <= 1e-12*max(math.Abs(a), math.Abs(b)) {
		return 0
	}
	return cmp.Compare(b, a)
}

func (j *Judge) sumOver(m *kb.Material, of []float64) float64 {
	sum := 0.0
	for _, i := range m.Leaves {
		sum += of[i]
	}
	return sum
}

// joined lists the leaves without exclusion, those that can't be told apart as their group. First those of unlike origin
// become the group that holds several: how a stone grew is decided by exclusion alone. Then, from the lowest groups up, a
// nameable group stands for its leaves without exclusion when there are several and their likelihoods lie within a factor of
// 2 of each other.
func (j *Judge) joined() []*kb.Material {
	var out []*kb.Material
	for i := range j.e.leaves {
		if j.w.free(i) {
			out = append(out, j.leaf(i))
		}
	}
	out = j.joinedByGrowth(out)
	for _, g := range j.e.nodes {
		if !g.Group || !j.alike(g) || slices.ContainsFunc(out, g.Under) {
			continue
		}
		out = slices.DeleteFunc(out, func(m *kb.Material) bool { return m.Under(g) })
		out = append(out, g)
	}
	return out
}

func (j *Judge) alike(g *kb.Material) bool {
	lo, hi, n := math.Inf(1), math.Inf(-1), 0
	for _, i := range g.Leaves {
		if j.w.free(i) {
			lo, hi, n = math.Min(lo, j.w.likelihood[i]), math.Max(hi, j.w.likelihood[i]), n+1
		}
	}
	return n > 1 && hi-lo <= math.Ln2
}

// equalShares are the shares under equal priors.
func (j *Judge) equalShares() {
	e, w := j.e, &j.w
	top := w.unlistedLog
	for i := range e.leaves {
		if w.free(i) {
			top = math.Max(top, e.equalPrior[i]+w.likelihood[i])
		}
	}
	sum := 0.0
	for i := range e.leaves {
		j.equal[i] = 0
		if w.free(i) {
			j.equal[i] = math.Exp(e.equalPrior[i] + w.likelihood[i] - top)
			sum += j.equal[i]
		}
	}
	sum += math.Exp(w.unlistedLog - top)
	for i := range j.equal {
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
