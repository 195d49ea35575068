package engine_test

import (
	"maps"
	"slices"
)

// "Growth is decided by exclusion alone", and names that are withheld.

// origins are those of some leaves.
func (n *naive) origins(leaves []int) set {
	out := set{}
	for _, i := range leaves {
		out[n.leaves[i].origin] = true
	}
	return out
}

// growthGroup: "G is the lowest nameable group that lies above the node and has leaves of several origins (assembled
// and imitation are origins too)".
func (n *naive) growthGroup(m *naiveNode) *naiveNode {
	for g := m.up; g != nil; g = g.up {
		if g.nameable && len(n.origins(g.under)) > 1 {
			return g
		}
	}
	return nil
}

// speciesOf: "A species is the sheet that says `grown` ... (leaves inherit), else the topmost nameable node".
func speciesOf(m *naiveNode) (species *naiveNode) {
	for up := m; up != nil; up = up.up {
		if up.grown != "" {
			return up
		}
		if up.nameable {
			species = up
		}
	}
	return species
}

// knownGrown: a natural name below a species needs "`none known` or `listed`"; at "`not listed`, or silent" none is
// given.
func knownGrown(species *naiveNode) bool {
	return species != nil && (species.grown == "none known" || species.grown == "listed")
}

// excluded tells whether a leaf has an exclusion, and twice whether its exclusions together rest on two tests.
func (v *opinion) excluded(i int) (is, twice bool) {
	tests := set{}
	for _, ev := range v.list {
		if ev.out[i] {
			is = true
			maps.Copy(tests, ev.tests)
		}
	}
	return is, len(tests) >= 2
}

// allExcluded: every one of some leaves has an exclusion, and where twice is asked one that rests on two tests.
func (v *opinion) allExcluded(leaves []int, twice bool) bool {
	return !slices.ContainsFunc(leaves, func(i int) bool {
		is, two := v.excluded(i)
		return !is || twice && !two
	})
}

// grownApart: "A node below G of one origin is named only if every leaf of another origin in G has an exclusion; for a
// natural origin each by exclusions that together rest on two tests ... at `not listed`, or silent, no node of natural
// origin below the species is named". "A node that itself holds several origins is named as ever".
func (v *opinion) grownApart(m *naiveNode) bool {
	origins := v.origins(m.under)
	if len(origins) > 1 {
		return true
	}
	natural := origins["natural"]
	if species := speciesOf(m); natural && species != m && !knownGrown(species) {
		v.met["growth: a species of which too little is known"] = true
		return false
	}
	g := v.growthGroup(m)
	if g == nil {
		return true
	}
	others := slices.DeleteFunc(slices.Clone(g.under), func(i int) bool { return origins[v.leaves[i].origin] })
	switch {
	case !v.allExcluded(others, false):
		v.met["growth: another origin is open"] = true
		return false
	case natural && !v.allExcluded(others, true):
		v.met["growth: excluded by one test"] = true
		return false
	case natural:
		v.met["growth: natural beyond doubt"] = true
	default:
		v.met["growth: not natural beyond doubt"] = true
	}
	return true
}

// withheld: "A leaf is withheld when it is one of the names or below one; a node when all its leaves are."
func (v *opinion) withheld(m *naiveNode) bool {
	names := set{}
	for _, r := range v.withholding() {
		for _, i := range r.withholds.names {
			names[v.leaves[i].id] = true
		}
	}
	return !slices.ContainsFunc(m.under, func(i int) bool { return !names[v.leaves[i].id] })
}

// narrow: "leaves without exclusion are first joined ... These nodes are taken by falling share (ties by id) until they
// hold the required share under the house's priors, and then, by falling share under equal priors, until they hold it
// there too. One to five nodes; more is `inconclusive`."
func (v *opinion) narrow() {
	nodes := v.join()
	equal := v.equalShares()
	under := func(shares []number) func(*naiveNode) number {
		return func(m *naiveNode) number {
			return among(shares, func(i int) bool { return slices.Contains(m.under, i) })
		}
	}
	house := under(v.shares)
	id := func(m *naiveNode) string { return m.id }
	var taken []*naiveNode
	for _, share := range []func(*naiveNode) number{house, under(equal)} {
		ordered(v.examined, nodes, share, id)
		left := slices.DeleteFunc(slices.Clone(nodes), func(m *naiveNode) bool { return slices.Contains(taken, m) })
		for {
			held := num(0)
			for _, m := range taken {
				held = plus(held, share(m))
			}
			if v.atLeast(held, num(v.required)) {
				break
			}
			if len(left) == 0 || len(taken) == 5 {
				return
			}
			taken, left = append(taken, left[0]), left[1:]
		}
	}
	if taken = v.withBeside(taken); taken == nil {
		return
	}
	ordered(v.examined, taken, house, id)
	v.share = num(0)
	for _, m := range taken {
		v.nodes = append(v.nodes, m)
		v.share = plus(v.share, house(m))
	}
}

// withBeside: "A narrowed list of withheld nodes only takes in the leaves below `beside:` not of weight zero; if that
// makes more than five nodes, or adds none, the verdict is `inconclusive`". They are those of the rules that keep back
// a leaf of the list, less what lies under it already.
func (v *opinion) withBeside(taken []*naiveNode) []*naiveNode {
	for _, m := range taken {
		if !v.withheld(m) {
			return taken
		}
	}
	out := slices.Clone(taken)
	var by []*naiveRule
	for _, r := range v.withholding() {
		keeps := slices.ContainsFunc(taken, func(m *naiveNode) bool {
			return slices.ContainsFunc(m.under, func(i int) bool { return slices.Contains(r.withholds.names, i) })
		})
		if !keeps {
			continue
		}
		by = append(by, r)
		for _, i := range r.withholds.beside {
			there := slices.ContainsFunc(out, func(m *naiveNode) bool { return within(v.leaves[i], m) })
			if !v.w.zero[i] && !there {
				out = append(out, v.leaves[i])
			}
		}
	}
	switch {
	case len(out) == len(taken):
		v.met["withheld: nothing beside"], v.keptBack = true, by
		return nil
	case len(out) > 5:
		v.met["withheld: too many beside"], v.keptBack = true, by
		return nil
	}
	v.met["withheld: names with others beside"] = true
	return out
}

// join: "In `narrowed`, before any other joining, the leaves of G without exclusion become the node G if their origins
// differ", G being that of any leaf that is open, and "those under the lowest nameable group whose likelihoods lie
// within a factor of 2 of each other count as that group, if they are all its leaves without exclusion". From the
// deepest group up, so that groups join too.
func (v *opinion) join() []*naiveNode {
	var nodes []*naiveNode
	for i, m := range v.leaves {
		if !v.w.out[i] {
			nodes = append(nodes, m)
		}
	}
	become := func(g *naiveNode) {
		if !slices.ContainsFunc(nodes, func(m *naiveNode) bool { return within(g, m) }) {
			nodes = append(slices.DeleteFunc(nodes, func(m *naiveNode) bool { return within(m, g) }), g)
		}
	}
	free := func(g *naiveNode) []int {
		return slices.DeleteFunc(slices.Clone(g.under), func(i int) bool { return v.w.out[i] })
	}
	for _, g := range v.nameable() {
		ofSome := slices.ContainsFunc(free(g), func(i int) bool { return v.growthGroup(v.leaves[i]) == g })
		if ofSome && len(v.origins(free(g))) > 1 {
			become(g)
			v.met["joined by origin"] = true
		}
	}
	for _, g := range v.nameable() {
		var low, high number
		for _, i := range free(g) {
			if l := v.w.likelihood[i]; low == nil || less(l, low) {
				low = l
			}
			if l := v.w.likelihood[i]; high == nil || less(high, l) {
				high = l
			}
		}
		if g.group && len(free(g)) >= 2 && v.atLeast(ln2, minus(high, low)) {
			become(g)
		}
	}
	return nodes
}

// equalShares: "Equal priors: each topmost nameable node has the same, split evenly over its leaves; `unlisted` keeps
// its own."
func (v *opinion) equalShares() []number {
	var top []*naiveNode
	for _, m := range v.nameable() {
		if nameableAt(m.up) == nil {
			top = append(top, m)
		}
	}
	weights := make([]number, len(v.w.weight))
	for _, m := range top {
		for _, i := range m.under {
			if !v.w.out[i] {
				each := over(num(1-v.unlisted), num(float64(len(top)*len(m.under))))
				weights[i] = times(each, exponential(v.w.likelihood[i]))
			}
		}
	}
	u := v.w.last()
	weights[u] = times(num(v.unlisted), exponential(v.w.likelihood[u]))
	whole := among(weights, func(int) bool { return true })
	for i := range weights {
		if weights[i] == nil {
			weights[i] = num(0)
		}
		weights[i] = over(weights[i], whole)
	}
	return weights
}
