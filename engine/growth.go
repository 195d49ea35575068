package engine

import (
	"iter"
	"slices"

	"whystone/kb"
)

// No test of a desk sees how a stone grew; what one sees sometimes (curved striae, a metallic flux) forbids an origin.
// So a node of one origin is named only when the leaves of every other origin beside it are excluded, whatever the
// frequencies say. Its growth group is the lowest nameable group above it whose leaves are of several origins: within
// it the origins have to be told apart.

// prepareGrowth finds the growth group of every nameable node and of every leaf.
func (e *Engine) prepareGrowth() {
	for _, m := range e.nodes {
		e.origins = append(e.origins, e.originOf(m.Leaves))
	}
	for _, m := range slices.Concat(e.nodes, e.Ruleset.Leaves) {
		e.growth = append(e.growth, e.growthGroup(m))
	}
}

// originOf is the one origin of leaves, or nothing when there are several.
func (e *Engine) originOf(leaves []int) kb.Origin {
	origin := e.Ruleset.Leaves[leaves[0]].Origin
	for _, i := range leaves[1:] {
		if e.Ruleset.Leaves[i].Origin != origin {
			return ""
		}
	}
	return origin
}

func (e *Engine) growthGroup(m *kb.Material) *kb.Material {
	for g := m.NameableAbove(); g != nil; g = g.NameableAbove() {
		if e.origins[e.names[g]] == "" {
			return g
		}
	}
	return nil
}

// growthOfLeaf is the growth group of a leaf, or nil.
func (e *Engine) growthOfLeaf(i int) *kb.Material { return e.growth[len(e.nodes)+i] }

// growthSettled tells whether the n-th node may be named for all that is known of how the stone grew.
func (j *Judge) growthSettled(n int, m *kb.Material) bool {
	origin := j.e.origins[n]
	if origin == "" {
		return true
	}
	if origin == kb.Natural && belowUnlistedGrowth(m) {
		return false
	}
	for k, word := range j.e.unlike[n] {
		if word&^j.w.excluded[k] != 0 {
			return false
		}
	}
	for range j.unsettled(n) {
		return false
	}
	return true
}

// belowUnlistedGrowth tells of a node below its species whose sheet does not list the grown ones: what is known to be
// grown can't be excluded where nothing is said of it.
func belowUnlistedGrowth(m *kb.Material) bool {
	return m.Species != nil && m.Species != m && !growthKnown(m.Species.Grown)
}

func growthKnown(g kb.Growth) bool { return g == kb.NoneKnown || g == kb.Listed }

// outOf tells whether a leaf is excluded far enough for a stone of another origin to be named: for a natural one, by
// exclusions that together rest on two tests.
func (j *Judge) outOf(i int, origin kb.Origin) bool {
	return j.w.excluded.has(i) && (origin != kb.Natural || several(j.exclusionTests(i)))
}

// exclusionTests are the tests behind what excludes a leaf.
func (j *Judge) exclusionTests(i int) testSet {
	var tests testSet
	for n := range j.items {
		if it := &j.items[n]; it.excludes.has(i) {
			tests.Union(it.tests)
		}
	}
	return tests
}

// unsettled are the leaves of another origin that keep the n-th node from being named.
func (j *Judge) unsettled(n int) iter.Seq[int] {
	return func(yield func(int) bool) {
		g, origin := j.e.growth[n], j.e.origins[n]
		if g == nil {
			return
		}
		of := j.e.leavesOf[origin]
		for _, i := range g.Leaves {
			if !of.has(i) && !j.outOf(i, origin) && !yield(i) {
				return
			}
		}
	}
}

// growsUnlike tells whether the leaves without exclusion of the n-th node are of several origins, and it is the growth
// group of one of them. So where the natural sapphire is open beside a ruby that may be grown, both are told as
// corundum, lest shares decide which of them to tell; ruby alone, natural or grown, stays ruby.
func (j *Judge) growsUnlike(n int) bool {
	if j.e.origins[n] != "" {
		return false
	}
	several, own := 0, false
	for _, of := range j.e.ofOrigins {
		for k, word := range j.e.within[n] {
			if word&^j.w.excluded[k]&of[k] != 0 {
				several++
				break
			}
		}
	}
	for k, word := range j.e.within[n] {
		own = own || word&^j.w.excluded[k]&j.e.ownGrowth[n][k] != 0
	}
	return several > 1 && own
}
