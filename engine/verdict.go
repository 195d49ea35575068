package engine

import (
	"cmp"
	"math"
	"slices"

	"whystone/kb"
)

// Class is the kind of a verdict.
type Class uint8

// The four verdicts.
const (
	Inconclusive Class = iota
	Identified
	Narrowed
	Contradictory
)

var classWords = [...]string{"inconclusive", "identified", "narrowed", "contradictory"}

// String gives the word used in files and output.
func (c Class) String() string { return classWords[c] }

// MaxNodes is how many nodes a stone can be narrowed to.
const MaxNodes = 5

// Decision is a verdict without what is told around it.
type Decision struct {
	Class      Class
	Named      *kb.Material   // of Identified
	Nodes      []*kb.Material // of Narrowed
	Share      float64        // of the named node, or of the nodes together; NaN else
	Required   float64
	DoubtLimit float64
	Doubt      float64
	Unlisted   float64
	Faulty     bool // a rule could not be evaluated
	// FaultyRules names such rules; empty for most cases, so that deciding allocates nothing for it.
	FaultyRules []string
	Claim       ClaimAnswer
}

// decide reaches the verdict from the weights, in the order: faulty, contradictory, identified, narrowed, inconclusive.
func (j *Judge) decide(d *Decision) {
	w := &j.w
	d.Share, d.Doubt, d.Unlisted = math.NaN(), w.doubt, w.unlisted
	d.Faulty = len(j.run.Faults) > 0
	for _, f := range j.run.Faults {
		if name := "the rule " + f.Rule.ID; !slices.Contains(d.FaultyRules, name) {
			d.FaultyRules = append(d.FaultyRules, name)
		}
	}
	switch {
	case d.Faulty:
		d.Class = Inconclusive
	case j.contradictory():
		d.Class = Contradictory
	default:
		if m := j.identify(d); m != nil {
			d.Class, d.Named, d.Share = Identified, m, j.nodeShare[j.e.names[m]]
			return
		}
		d.Nodes, d.Share = j.narrow(d)
		if d.Nodes != nil {
			d.Class = Narrowed
			return
		}
		d.Class, d.Share = Inconclusive, math.NaN()
	}
}

// best is the likeliest leaf of a kind by the readings alone, or -1.
func (j *Judge) best(among func(i int) bool) int {
	best := -1
	for i := range j.e.leaves {
		if among(i) && (best < 0 || j.w.likelihood[i] > j.w.likelihood[best]) {
			best = i
		}
	}
	return best
}

func (w *weights) free(i int) bool     { return !w.excluded.has(i) }
func (w *weights) doubtful(i int) bool { return w.excluded.has(i) && !w.nought.has(i) }

func (j *Judge) contradictory() bool {
	w := &j.w
	free := j.best(w.free)
	if free < 0 {
		j.trace.check("contradictory", nil, true, "every material is excluded")
		return true
	}
	if d := j.best(w.doubtful); d >= 0 && w.likelihood[d] >= w.likelihood[free]+math.Log(j.e.Ruleset.Policy.Rival) {
		if j.trace != nil {
			j.trace.check("contradictory", nil, true, "one mistaken reading explains the case better than anything left: %s, excluded by %s, is %s times likelier than %s",
				j.leaf(d).Name, j.excludedBy(d), figures(math.Exp(w.likelihood[d]-w.likelihood[free])), j.leaf(free).Name)
		}
		return true
	}
	if w.unlisted > 0.5 {
		j.trace.check("contradictory", nil, true, "no material listed here fits well: something unlisted is likelier than all of them")
		return true
	}
	j.trace.check("contradictory", nil, false, "the readings can be true together")
	return false
}

func (j *Judge) leaf(i int) *kb.Material { return j.e.Ruleset.Leaves[i] }

// shares adds up the leaves' shares for every nameable node.
func (j *Judge) shares() {
	clear(j.nodeShare)
	for i := range j.e.leaves {
		if s := j.w.share[i]; s > 0 {
			for _, n := range j.e.above[i] {
				j.nodeShare[n] += s
			}
		}
	}
}

// identify finds the deepest nameable node that can be named, or nil. As a node must hold more than half, those that
// hold enough lie on one line from the root.
func (j *Judge) identify(d *Decision) *kb.Material {
	j.shares()
	for n, m := range j.e.nodes {
		if j.nodeShare[n] < d.Required {
			continue
		}
		if j.nameable(d, n, m) {
			return m
		}
	}
	return nil
}

// nameable goes through what a name needs besides its share. All of it is checked while an observer looks on.
func (j *Judge) nameable(d *Decision, n int, m *kb.Material) bool {
	good := d.Doubt <= d.DoubtLimit
	if j.trace != nil {
		j.trace.check("share", m, true, "%s has a share of %s of all that is not excluded; %s is required", m.Name, figures(j.nodeShare[n]), figures(d.Required))
		j.trace.check("doubt", m, good, "a share of %s hangs on a single reading being wrong; at most %s may", figures(d.Doubt), figures(d.DoubtLimit))
	} else if !good {
		return false
	}
	supported := j.supported(m)
	if j.trace != nil {
		j.trace.families(m, supported)
	} else if !supported {
		return false
	}
	alone := j.noRival(d, n, m)
	if !alone && j.trace == nil {
		return false
	}
	sent := j.sentOn()
	if sent {
		j.trace.check("sent on", m, false, "a rule sends this stone to a laboratory")
	}
	return good && supported && alone && !sent
}

// sentOn tells whether an active rule sends the stone on.
func (j *Judge) sentOn() bool {
	for i, r := range j.e.Ruleset.Order {
		if r.SendsOn != "" && j.fires(i) {
			return true
		}
	}
	return false
}

// supported tells whether at least two families, resting on two tests, support a node: each at least doubles its odds,
// alone over the prior or added last.
func (j *Judge) supported(m *kb.Material) bool {
	var tests testSet
	families := 0
	enough := false
	for f := range j.w.families {
		fw := &j.w.families[f]
		if fw.tests.empty() || !j.familySupports(fw, m) {
			continue
		}
		families++
		both := tests
		both.union(fw.tests)
		tests = both
		j.trace.supports(j.e.families[fw.family], m)
		if families >= 2 && tests.several() {
			enough = true
			if j.trace == nil {
				return true
			}
		}
	}
	return enough
}

// several tells whether there are at least two.
func (s testSet) several() bool {
	n := 0
	for _, w := range s {
		for ; w != 0; w &= w - 1 {
			n++
		}
	}
	return n >= 2
}

// familySupports compares the node's odds with and without a family: over the prior alone, where every leaf counts, and
// with all other families, where the leaves of weight nought don't.
func (j *Judge) familySupports(f *familyWeight, m *kb.Material) bool {
	e, w := j.e, &j.w
	var priorIn, priorOut, aloneIn, aloneOut, lastIn, lastOut, restIn, restOut float64
	at, only := 0, j.only(f)
	for i := range e.leaves {
		in := at < len(m.Leaves) && m.Leaves[at] == i
		if in {
			at++
		}
		var c float64
		if only != nil {
			c = j.fill(only, i)
		} else {
			c = j.familySum(f, i)
		}
		ratio := math.Exp(c)
		p, last := e.prior[i], w.above[i]
		alone, rest := p*ratio, last/ratio
		if in {
			priorIn, aloneIn, lastIn, restIn = priorIn+p, aloneIn+alone, lastIn+last, restIn+rest
		} else {
			priorOut, aloneOut, lastOut, restOut = priorOut+p, aloneOut+alone, lastOut+last, restOut+rest
		}
	}
	u, ul := e.Ruleset.Policy.Unlisted, math.Exp(e.unlisted-w.top)
	doubled := func(in, out, withIn, withOut float64) bool { return withIn*out >= 2*in*withOut }
	return doubled(priorIn, priorOut+u, aloneIn, aloneOut+u) || doubled(restIn, restOut+ul, lastIn, lastOut+ul)
}

// nodeLikelihood is a node's by the readings alone: the largest among its leaves without exclusion, or, if it has
// none, among those of weight above nought; minus infinity when it has no weight.
func (j *Judge) nodeLikelihood(m *kb.Material) float64 {
	free, any := math.Inf(-1), math.Inf(-1)
	for _, i := range m.Leaves {
		switch {
		case j.w.free(i):
			free = math.Max(free, j.w.likelihood[i])
		case !j.w.nought.has(i):
			any = math.Max(any, j.w.likelihood[i])
		}
	}
	if !math.IsInf(free, -1) {
		return free
	}
	return any
}

func (j *Judge) hasFree(m *kb.Material) bool {
	for _, i := range m.Leaves {
		if j.w.free(i) {
			return true
		}
	}
	return false
}

// noRival tells whether every rival without exclusion is far enough behind by the readings alone. Rivals are the
// nameable nodes beside it with more than a tenth of what may be missing, and those within the same nameable group.
func (j *Judge) noRival(d *Decision, n int, m *kb.Material) bool {
	own := j.nodeLikelihood(m)
	group := m.NameableAbove()
	good := true
	for o, r := range j.e.nodes {
		if o == n || !j.rivals(d, o, m, group) {
			continue
		}
		behind := own-j.nodeLikelihood(r) >= math.Log(j.e.Ruleset.Policy.Rival)
		good = good && behind
		if j.trace != nil {
			j.trace.rival(m, r, behind, own-j.nodeLikelihood(r), j.e.Ruleset.Policy.Rival)
		} else if !behind {
			return false
		}
	}
	return good
}

// rivals tells whether the o-th nameable node is a rival of m, whose nameable group is given.
func (j *Judge) rivals(d *Decision, o int, m, group *kb.Material) bool {
	r := j.e.nodes[o]
	sibling := group != nil && r != group && r.Under(group)
	return !r.Under(m) && !m.Under(r) && j.hasFree(r) && (sibling || j.nodeShare[o] > (1-d.Required)/10)
}

// narrow finds the one to five nodes that hold the required share at the house's priors and at equal ones.
func (j *Judge) narrow(d *Decision) ([]*kb.Material, float64) {
	nodes := j.joined()
	house := func(m *kb.Material) float64 { return j.sumOver(m, j.w.share) }
	j.equalShares()
	equal := func(m *kb.Material) float64 { return j.sumOver(m, j.equal) }
	var taken []*kb.Material
	for _, share := range []func(*kb.Material) float64{house, equal} {
		slices.SortFunc(nodes, func(a, b *kb.Material) int { return cmp.Or(falling(share(a), share(b)), cmp.Compare(a.ID, b.ID)) })
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
				j.trace.check("narrowed", nil, false, "the readings fit more than %d materials, too many to name", MaxNodes)
				return nil, 0
			}
			taken = append(taken, m)
			held += share(m)
		}
		if held < d.Required {
			j.trace.check("narrowed", nil, false, "what stays open does not hold the share of all that is required at this stake, not even together")
			return nil, 0
		}
	}
	slices.SortFunc(taken, func(a, b *kb.Material) int { return cmp.Or(falling(house(a), house(b)), cmp.Compare(a.ID, b.ID)) })
	total := 0.0
	for _, m := range taken {
		total += house(m)
	}
	j.trace.check("narrowed", nil, true, "%d of the candidates hold what is required, at the house's priors and at equal ones", len(taken))
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

// joined lists the leaves without exclusion, those that can't be told apart as their group: from the lowest groups up,
// a nameable group stands for its leaves without exclusion when there are several and their likelihoods lie within a
// factor of 2 of each other.
func (j *Judge) joined() []*kb.Material {
	var out []*kb.Material
	for i := range j.e.leaves {
		if j.w.free(i) {
			out = append(out, j.leaf(i))
		}
	}
	for _, g := range j.e.nodes {
		if !g.Group || !j.alike(g) {
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
	top := e.unlisted
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
	sum += math.Exp(e.unlisted - top)
	for i := range j.equal {
		j.equal[i] /= sum
	}
}
