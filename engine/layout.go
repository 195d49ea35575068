package engine

import (
	"slices"

	"whystone/kb"
)

// layout is what deciding asks of the tree of materials again and again, laid out as sets, so that it is answered for
// many leaves or nodes by one operation.
type layout struct {
	every     leafSet                 // all leaves
	leavesOf  map[kb.Origin]leafSet   // nil for none
	ofOrigins []leafSet               // the same, in any order
	ownGrowth []leafSet               // by node: the leaves whose growth group it is
	unlike    []leafSet               // by node of one origin: the leaves of others in its growth group
	mixed     []int                   // of the groups those whose leaves are of several origins
	tops      []int                   // the topmost nodes
	allTopped bool                    // each leaf lies below one of them
	beside    []nodeSet               // by node: those that are neither above nor below it
	siblings  []nodeSet               // by node: those below the lowest nameable group above it
	priorIn   []float64               // by node: of its leaves
	priorOut  []float64               // by node: of the other leaves
	claims    map[string]*claimLayout // by word
}

// nodeSet is a set of nameable nodes, by their indexes.
type nodeSet = leafSet

func (e *Engine) newNodeSet() nodeSet { return make(nodeSet, (len(e.nodes)+63)/64) }

// layOut lays out the nodes, when all else is known of them.
func (e *Engine) layOut() {
	e.leavesOf, e.every = map[kb.Origin]leafSet{}, e.newSet()
	for i, m := range e.Ruleset.Leaves {
		if e.leavesOf[m.Origin] == nil {
			e.leavesOf[m.Origin] = e.newSet()
			e.ofOrigins = append(e.ofOrigins, e.leavesOf[m.Origin])
		}
		e.leavesOf[m.Origin].add(i)
		e.every.add(i)
	}
	for _, n := range e.groups {
		if e.origins[n] == "" {
			e.mixed = append(e.mixed, n)
		}
	}
	e.allTopped = !slices.ContainsFunc(e.above, func(nodes []int) bool { return len(nodes) == 0 })
	e.priorIn, e.priorOut = make([]float64, len(e.nodes)), make([]float64, len(e.nodes))
	for n, m := range e.nodes {
		if m.NameableAbove() == nil {
			e.tops = append(e.tops, n)
		}
		own := e.newSet()
		for i := range e.Ruleset.Leaves {
			if e.growthOfLeaf(i) == m {
				own.add(i)
			}
		}
		e.ownGrowth = append(e.ownGrowth, own)
		unlike := e.newSet()
		if g := e.growth[n]; g != nil && e.origins[n] != "" {
			for _, i := range g.Leaves {
				if e.Ruleset.Leaves[i].Origin != e.origins[n] {
					unlike.add(i)
				}
			}
		}
		e.unlike = append(e.unlike, unlike)
		for i, p := range e.prior {
			if e.within[n].has(i) {
				e.priorIn[n] += p
			} else {
				e.priorOut[n] += p
			}
		}
		beside, siblings, group := e.newNodeSet(), e.newNodeSet(), m.NameableAbove()
		for o, r := range e.nodes {
			if !r.Under(m) && !m.Under(r) {
				beside.add(o)
			}
			if group != nil && r != group && r.Under(group) {
				siblings.add(o)
			}
		}
		e.beside, e.siblings = append(e.beside, beside), append(e.siblings, siblings)
	}
	e.claims = map[string]*claimLayout{}
	laid := map[*kb.Claim]*claimLayout{}
	for word, c := range e.Ruleset.Claims {
		if laid[c] == nil {
			laid[c] = e.layOutClaim(c)
		}
		e.claims[word] = laid[c]
	}
}

// claimLayout is what answering a claim asks of it in every case.
type claimLayout struct {
	claim      *kb.Claim
	own, group asked
	colours    uint64 // demanded; none: any
	hasGroup   bool
}

// asked is a node that is claimed, with the leaves of it that are meant.
type asked struct {
	node    *kb.Material
	leaves  []int
	prior   float64
	growth  *kb.Material // the group within which the claim's origin is to be told apart, or nil
	grown   float64      // their prior
	natural bool         // of natural origin
}

func (e *Engine) layOutClaim(c *kb.Claim) *claimLayout {
	out := &claimLayout{claim: c, own: e.asked(c.Node, c.Leaves, e.growthOfClaim(c)), colours: e.demanded(c)}
	out.own.natural = e.allNatural(c.Leaves)
	if g := c.Group(e.Ruleset); g != nil {
		out.group, out.hasGroup = e.asked(g, g.Leaves, e.growthGroup(g)), true
	}
	return out
}

func (e *Engine) asked(m *kb.Material, leaves []int, growth *kb.Material) asked {
	a := asked{node: m, leaves: leaves, prior: e.priorOf(leaves), growth: growth}
	if growth != nil {
		a.grown = e.priorOf(growth.Leaves)
	}
	return a
}

func (e *Engine) priorOf(leaves []int) (prior float64) {
	for _, i := range leaves {
		prior += e.prior[i]
	}
	return prior
}
