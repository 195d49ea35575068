package engine_test

import (
	"maps"
	"math"
	"slices"
)

// weighed is what all evidence comes to, by leaf; unlisted comes last. Weights of zero are nil.
type weighed struct {
	out        []bool
	zero       []bool
	prior      []number
	likelihood []number            // log, prior left out
	weight     []number            // prior times likelihood
	family     map[string][]number // log, by family
	tests      map[string]set
	names      []string // of the families, sorted
}

// weigh: "A leaf's log-weight is ln prior plus its contributions".
func (x *examined) weigh(list []*evidence) *weighed {
	n := len(x.leaves)
	w := &weighed{out: make([]bool, n+1), zero: make([]bool, n+1), prior: x.shareOut(), likelihood: make([]number, n+1),
		weight: make([]number, n+1), family: map[string][]number{}, tests: map[string]set{}}
	for i := range n {
		for _, a := range list {
			w.out[i] = w.out[i] || a.out[i]
			// "A material has weight zero when readings of two families, made by two tests, exclude it"
			for _, b := range list {
				w.zero[i] = w.zero[i] || a.out[i] && b.out[i] && a.family != b.family && apart(a.tests, b.tests)
			}
		}
	}
	for _, ev := range list {
		if !ev.said {
			continue
		}
		if w.tests[ev.family] == nil {
			w.tests[ev.family] = set{}
			w.names = append(w.names, ev.family)
		}
		maps.Copy(w.tests[ev.family], ev.tests)
	}
	slices.Sort(w.names)
	for _, f := range w.names {
		w.family[f] = x.familySum(list, f, w.out)
	}
	for i := range n + 1 {
		if w.zero[i] {
			continue
		}
		w.likelihood[i] = num(0)
		for _, f := range w.names {
			w.likelihood[i] = plus(w.likelihood[i], w.family[f][i])
		}
		w.weight[i] = times(w.prior[i], exponential(w.likelihood[i]))
	}
	return w
}

// apart: no single test made both.
func apart(a, b set) bool {
	for t := range a {
		if b[t] {
			return false
		}
	}
	return true
}

// shareOut: "`seen_at_counter` words stand for numbers in the policy; each leaf takes its own or inherited word whole;
// `priors:` overrides by id on the same scale; the listed leaves sum to 1 less that of `unlisted`."
func (n *naive) shareOut() []number {
	var scale, out []number
	sum := num(0)
	for _, m := range n.leaves {
		common := 0.0
		for at := m; at != nil && common == 0; at = at.up {
			if over, ok := n.priors[at.id]; ok {
				common = over
			} else if at.counter != "" {
				common = n.counter[at.counter]
			}
		}
		scale = append(scale, num(common))
		sum = plus(sum, num(common))
	}
	for _, s := range scale {
		out = append(out, times(over(s, sum), num(1-n.unlisted)))
	}
	return append(out, num(n.unlisted))
}

// naiveGroup is the evidence of a family that rests on the same readings: for each leaf, and for what is unlisted, one
// of it counts.
type naiveGroup struct {
	name   string
	c      []float64
	out    []bool
	spread float64
}

// familySum: what a family says of each leaf, and of what is unlisted.
func (x *examined) familySum(list []*evidence, family string, out []bool) []number {
	groups := x.groups(list, family)
	// "contributions are ordered by spread (largest less smallest c over the materials without exclusion; ties by
	// name)". What is unlisted is never excluded, and its c counts as 0 here: it is one of them, as the guide for
	// contributors says.
	for _, g := range groups {
		low, high := 0.0, 0.0
		for i := range x.leaves {
			if !out[i] {
				low, high = math.Min(low, g.c[i]), math.Max(high, g.c[i])
			}
		}
		if g.spread = high - low; g.spread < 1e-12 {
			g.spread = 0 // ln 1, computed
		}
	}
	byName := func(g *naiveGroup) string { return g.name }
	ordered(x, groups, func(g *naiveGroup) number { return num(g.spread) }, byName)
	further := num(x.further)
	sums := make([]number, len(x.leaves)+1)
	sum := func(i, first int) number {
		s := num(0)
		for k, g := range groups {
			if k == first {
				s = plus(s, num(g.c[i]))
			} else {
				s = plus(s, times(further, num(g.c[i])))
			}
		}
		return s
	}
	for i := range x.leaves {
		// "the first counts in full, every further one with `further_weight`"
		first := 0
		// "For a material that the family excludes, its lowest excluding c counts in full and the others at
		// `further_weight`."
		for k, g := range groups {
			if g.out[i] && (!groups[first].out[i] || g.c[i] < groups[first].c[i]) {
				first = k
			}
		}
		sums[i] = sum(i, first)
	}
	// "For it, a family's contributions are ordered by their own size (the largest in full, each further one at
	// `further_weight`)"
	u := len(x.leaves)
	ordered(x, groups, func(g *naiveGroup) number { return num(math.Abs(g.c[u])) }, byName)
	sums[u] = sum(u, 0)
	return sums
}

// groups: "A rule rests on the same readings as a sheet's line when it names that observable alone, and as another rule
// when both name the same set: then, for each material, the c furthest from 0 counts (ties: the negative one)." Where
// one of them excludes the material, the lowest that excludes it counts.
func (x *examined) groups(list []*evidence, family string) []*naiveGroup {
	byBasis := map[string][]*evidence{}
	var order []string
	for _, ev := range list {
		if ev.family == family && ev.said {
			if byBasis[ev.basis] == nil {
				order = append(order, ev.basis)
			}
			byBasis[ev.basis] = append(byBasis[ev.basis], ev)
		}
	}
	var groups []*naiveGroup
	for _, basis := range order {
		g := &naiveGroup{c: make([]float64, len(x.leaves)+1), out: make([]bool, len(x.leaves))}
		for _, ev := range byBasis[basis] {
			if g.name == "" || ev.name < g.name {
				g.name = ev.name
			}
		}
		for i := range g.c {
			var said, excluding []float64
			for _, ev := range byBasis[basis] {
				said = append(said, ev.c[i])
				if i < len(g.out) && ev.out[i] {
					excluding = append(excluding, ev.c[i])
				}
			}
			if g.c[i] = furthest(said); len(excluding) > 0 {
				g.c[i], g.out[i] = slices.Min(excluding), true
			}
		}
		groups = append(groups, g)
	}
	return groups
}

// among adds the weights of some; what has no weight adds nothing.
func among(weights []number, wanted func(i int) bool) number {
	sum := num(0)
	for i, w := range weights {
		if w != nil && wanted(i) {
			sum = plus(sum, w)
		}
	}
	return sum
}

// shares: "the softmax over the materials without exclusion and `unlisted`".
func (w *weighed) shares() []number {
	free := among(w.weight, func(i int) bool { return !w.out[i] })
	out := make([]number, len(w.weight))
	for i := range w.weight {
		out[i] = num(0)
		if !w.out[i] {
			out[i] = over(w.weight[i], free)
		}
	}
	return out
}

// whole is all weight, doubts counted.
func (w *weighed) whole() number { return among(w.weight, func(int) bool { return true }) }

// doubt: "in the softmax over all of weight above zero, the total of those with an exclusion".
func (w *weighed) doubt() number {
	return over(among(w.weight, func(i int) bool { return w.out[i] }), w.whole())
}

// last is the place of what is unlisted.
func (w *weighed) last() int { return len(w.weight) - 1 }
