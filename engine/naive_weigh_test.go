package engine_test

import (
	"math"
	"slices"
	"strings"

	"whystone/kb"
)

// weighed is what all evidence comes to, by material; unlisted comes last. Weights of nought are nil.
type weighed struct {
	out        []bool
	nought     []bool
	prior      []number
	likelihood []number            // log, prior left out
	weight     []number            // prior times likelihood
	family     map[string][]number // log, by family
	tests      map[string]map[string]bool
	names      []string // of the families, sorted
}

// weigh: "A leaf's log-weight is ln prior plus its contributions".
func (x *examined) weigh(list []*evidence) *weighed {
	n := len(x.rs.Leaves)
	w := &weighed{out: make([]bool, n+1), nought: make([]bool, n+1), prior: x.priors(), likelihood: make([]number, n+1),
		weight: make([]number, n+1), family: map[string][]number{}, tests: map[string]map[string]bool{}}
	for i := range n {
		for _, a := range list {
			w.out[i] = w.out[i] || a.out[i]
			// "A material has weight nought when readings of two families, made by two tests, exclude it"
			for _, b := range list {
				w.nought[i] = w.nought[i] || a.out[i] && b.out[i] && a.family != b.family && apart(a.tests, b.tests)
			}
		}
	}
	for _, ev := range list {
		if !ev.said {
			continue
		}
		if w.tests[ev.family] == nil {
			w.tests[ev.family] = map[string]bool{}
			w.names = append(w.names, ev.family)
		}
		for t := range ev.tests {
			w.tests[ev.family][t] = true
		}
	}
	slices.Sort(w.names)
	for _, f := range w.names {
		w.family[f] = x.familySum(list, f, w.out)
	}
	for i := range n + 1 {
		if w.nought[i] {
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
func apart(a, b map[string]bool) bool {
	for t := range a {
		if b[t] {
			return false
		}
	}
	return true
}

// priors: "`seen_at_counter` words stand for numbers in the policy; each leaf takes its own or inherited word whole;
// `priors:` overrides by id on the same scale; the listed leaves sum to 1 less that of `unlisted`."
func (x *examined) priors() []number {
	p := x.rs.Policy
	var scale, out []number
	sum := num(0)
	for _, m := range x.rs.Leaves {
		common := 0.0
		for at := m; at != nil && common == 0; at = at.Parent {
			if over, ok := p.Priors[at.ID]; ok {
				common = over
			} else if word := x.counter[at.ID]; word != "" {
				common = p.SeenAtCounter[word]
			}
		}
		scale = append(scale, num(common))
		sum = plus(sum, num(common))
	}
	for _, s := range scale {
		out = append(out, times(over(s, sum), num(1-p.Unlisted)))
	}
	return append(out, num(p.Unlisted))
}

// group is the evidence of a family that rests on the same readings: for each material one of it counts.
type naiveGroup struct {
	name   string
	c      []float64
	out    []bool
	spread float64
}

// familySum: what a family says of each material.
func (x *examined) familySum(list []*evidence, family string, out []bool) []number {
	groups := x.groups(list, family)
	// "contributions are ordered by spread (largest less smallest c over the materials without exclusion; ties by name)".
	// What is unlisted is never excluded, and its c is 0: it is one of them, as the guide for contributors says.
	for _, g := range groups {
		low, high := 0.0, 0.0
		for i := range x.rs.Leaves {
			if !out[i] {
				low, high = math.Min(low, g.c[i]), math.Max(high, g.c[i])
			}
		}
		if g.spread = high - low; g.spread < 1e-12 {
			g.spread = 0 // ln 1, computed
		}
	}
	ordered(x, groups, func(g *naiveGroup) number { return num(g.spread) }, func(g *naiveGroup) string { return g.name })
	further := num(x.rs.Policy.FurtherWeight)
	sums := make([]number, len(x.rs.Leaves)+1)
	for i := range x.rs.Leaves {
		// "the first counts in full, every further one with `further_weight`"
		first := 0
		// "For a material that the family excludes, its lowest excluding c counts in full and the others at `further_weight`."
		for k, g := range groups {
			if g.out[i] && (!groups[first].out[i] || g.c[i] < groups[first].c[i]) {
				first = k
			}
		}
		sums[i] = num(groups[first].c[i])
		for k, g := range groups {
			if k != first {
				sums[i] = plus(sums[i], times(further, num(g.c[i])))
			}
		}
	}
	sums[len(x.rs.Leaves)] = num(0) // "c is 0 for `unlisted`"
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
		g := &naiveGroup{c: make([]float64, len(x.rs.Leaves)), out: make([]bool, len(x.rs.Leaves))}
		for _, ev := range byBasis[basis] {
			if g.name == "" || ev.name < g.name {
				g.name = ev.name
			}
		}
		for i := range x.rs.Leaves {
			var said, excluding []float64
			for _, ev := range byBasis[basis] {
				said = append(said, ev.c[i])
				if ev.out[i] {
					excluding = append(excluding, ev.c[i])
				}
			}
			if g.out[i] = len(excluding) > 0; g.out[i] {
				g.c[i] = slices.Min(excluding)
			} else {
				g.c[i] = x.furthest(said)
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

// doubt: "in the softmax over all of weight above nought, the total of those with an exclusion".
func (w *weighed) doubt() number {
	return over(among(w.weight, func(i int) bool { return w.out[i] }), among(w.weight, func(int) bool { return true }))
}

// unlisted is the place of what the ruleset lacks.
func (w *weighed) unlisted() int { return len(w.weight) - 1 }

// beneath lists the materials at or below a node.
func (n *naive) beneath(node *kb.Material) []int {
	var out []int
	for i, m := range n.rs.Leaves {
		if within(m, node) {
			out = append(out, i)
		}
	}
	return out
}

// within tells whether a node is another or lies below it.
func within(m, above *kb.Material) bool {
	for ; m != nil; m = m.Parent {
		if m == above {
			return true
		}
	}
	return false
}

func depth(m *kb.Material) int {
	n := 0
	for ; m.Parent != nil; m = m.Parent {
		n++
	}
	return n
}

// nameable lists the nodes that a verdict may name, the deepest first.
func (n *naive) nameable() []*kb.Material {
	var out []*kb.Material
	for _, m := range n.rs.Nodes {
		if m.Nameable {
			out = append(out, m)
		}
	}
	slices.SortFunc(out, func(a, b *kb.Material) int {
		if d := depth(b) - depth(a); d != 0 {
			return d
		}
		return strings.Compare(a.ID, b.ID)
	})
	return out
}
