package engine_test

import (
	"math"
	"slices"
	"time"

	"whystone/kb"
	"whystone/kb/casefile"
)

// opinion is the naive verdict with all that the engine's is compared with.
type opinion struct {
	*examined
	w        *weighed
	class    string
	named    *kb.Material
	nodes    []string
	share    number // of what is named, or of the nodes together; nil else
	shares   []number
	doubt    number
	required float64
	limit    float64
	support  number // log
	against  []string
	claim    naiveClaim
	repeat   [][]string
	unsure   bool // the repeats lie close to a threshold
}

// judge reaches the verdict and all that goes with it.
func (n *naive) judge(c *casefile.Case, on time.Time) *opinion {
	v := n.decide(c, on)
	if v.named != nil {
		v.supportOf()
	}
	v.answerClaim()
	if v.class == "contradictory" {
		v.repeats(on)
	}
	return v
}

// decide: "Verdict, in this order".
func (n *naive) decide(c *casefile.Case, on time.Time) *opinion {
	v := n.weighs(c, on)
	// "it holds the required share (policy; a table by stake)"
	for _, line := range n.rs.Policy.Required {
		if line.Stake == 0 || c.Stake != nil && *c.Stake >= line.Stake {
			v.required, v.limit = line.Share, line.DoubtLimit
		}
	}
	switch {
	case v.faulty: // "A rule that could not be evaluated (drafts aside) makes it `inconclusive`, before all else"
		v.class = "inconclusive"
	case v.contradictory():
		v.class = "contradictory"
	default:
		v.class = "inconclusive"
		if v.identify(); v.named != nil {
			v.class = "identified"
		} else if v.narrow(); v.nodes != nil {
			v.class = "narrowed"
		}
	}
	return v
}

// weighs is what comes before the verdict.
func (n *naive) weighs(c *casefile.Case, on time.Time) *opinion {
	x := n.examine(c, on)
	w := x.weigh(x.list)
	return &opinion{examined: x, w: w, shares: w.shares(), doubt: w.doubt()}
}

// likeliest is the largest likelihood among some materials, or nil.
func (v *opinion) likeliest(wanted func(i int) bool) number {
	var best number
	for i := range v.rs.Leaves {
		if l := v.w.likelihood[i]; l != nil && wanted(i) && (best == nil || less(best, l)) {
			best = l
		}
	}
	return best
}

// times likelier by the readings alone: a is at least r times b.
func (v *opinion) likelier(a, b number, r float64) bool {
	return v.atLeast(minus(a, b), logarithm(num(r)))
}

// contradictory: "no material is without exclusion; or, by the readings alone, the best with a doubt is at least
// `rival` (10) times likelier than the best without exclusion ...; or `unlisted` exceeds one half."
func (v *opinion) contradictory() bool {
	free := v.likeliest(func(i int) bool { return !v.w.out[i] })
	doubtful := v.likeliest(func(i int) bool { return v.w.out[i] })
	switch {
	case free == nil:
		return true
	case doubtful != nil && v.likelier(doubtful, free, v.rs.Policy.Rival):
		return true
	}
	v.mark(v.shares[v.w.unlisted()], num(0.5))
	return less(num(0.5), v.shares[v.w.unlisted()])
}

func (v *opinion) shareOf(m *kb.Material) number {
	return among(v.shares, func(i int) bool { return slices.Contains(v.beneath(m), i) })
}

// likelihoodOf: "By the readings alone (priors left out), a node's likelihood is the largest among its leaves without
// exclusion, or, if it has none, among those of weight above nought."
func (v *opinion) likelihoodOf(m *kb.Material) number {
	under := v.beneath(m)
	free := v.likeliest(func(i int) bool { return slices.Contains(under, i) && !v.w.out[i] })
	if free != nil {
		return free
	}
	return v.likeliest(func(i int) bool { return slices.Contains(under, i) })
}

// identify: "the deepest nameable node that meets all of this (where a leaf fails, its group is tried)".
func (v *opinion) identify() {
	for _, r := range v.fires {
		if r.SendsOn != "" { // "no rule sends the stone on"
			return
		}
	}
	// "doubt is at most `doubt_limit`"
	if v.mark(v.doubt, num(v.limit)); less(num(v.limit), v.doubt) {
		return
	}
	for _, m := range v.nameable() {
		if v.atLeast(v.shareOf(m), num(v.required)) && v.supported(m) && v.unrivalled(m) {
			v.named, v.share = m, v.shareOf(m)
			return
		}
	}
}

// supported: "at least two families resting on two tests support it (a family supports when it at least doubles the
// node's odds, alone over the prior, or added last)".
func (v *opinion) supported(m *kb.Material) bool {
	families, tests := 0, map[string]bool{}
	in := func(i int) bool { return slices.Contains(v.beneath(m), i) }
	out := func(i int) bool { return !slices.Contains(v.beneath(m), i) }
	odds := func(weights []number) (a, b number) { return among(weights, in), among(weights, out) }
	for _, f := range v.w.names {
		var alone, without []number
		for i := range v.w.weight {
			alone = append(alone, times(v.w.prior[i], exponential(v.w.family[f][i])))
			without = append(without, nil)
			if v.w.weight[i] != nil {
				without[i] = over(v.w.weight[i], exponential(v.w.family[f][i]))
			}
		}
		doubles := func(before, after []number) bool {
			a, b := odds(before)
			c, d := odds(after)
			return v.atLeast(times(c, b), times(num(2), times(a, d)))
		}
		first, last := doubles(v.w.prior, alone), doubles(without, v.w.weight)
		if (first || last) && len(v.w.tests[f]) > 0 {
			families++
			for t := range v.w.tests[f] {
				tests[t] = true
			}
		}
	}
	return families >= 2 && len(tests) >= 2
}

// unrivalled: "every rival without exclusion (a nameable node beside it with more than a tenth of 1 - required, or a
// sibling in the same nameable group whatever its share) is at least `rival` times less likely by the readings alone".
func (v *opinion) unrivalled(m *kb.Material) bool {
	group := m.Parent
	for group != nil && !group.Nameable {
		group = group.Parent
	}
	for _, r := range v.nameable() {
		beside := !within(r, m) && !within(m, r)
		free := slices.ContainsFunc(v.beneath(r), func(i int) bool { return !v.w.out[i] })
		if !beside || !free {
			continue
		}
		sibling := group != nil && within(r, group)
		if !sibling {
			tenth := num((1 - v.required) / 10)
			if v.mark(v.shareOf(r), tenth); !less(tenth, v.shareOf(r)) {
				continue
			}
		}
		if !v.likelier(v.likelihoodOf(m), v.likelihoodOf(r), v.rs.Policy.Rival) {
			return false
		}
	}
	return true
}

// narrow: "leaves without exclusion are first joined ... These nodes are taken by falling share (ties by id) until they
// hold the required share under the house's priors, and then, by falling share under equal priors, until they hold it
// there too. One to five nodes; more is `inconclusive`."
func (v *opinion) narrow() {
	nodes := v.join()
	equal := v.equalShares()
	under := func(shares []number) func(*kb.Material) number {
		return func(m *kb.Material) number {
			return among(shares, func(i int) bool { return slices.Contains(v.beneath(m), i) })
		}
	}
	house := under(v.shares)
	id := func(m *kb.Material) string { return m.ID }
	var taken []*kb.Material
	for _, share := range []func(*kb.Material) number{house, under(equal)} {
		ordered(v.examined, nodes, share, id)
		left := slices.DeleteFunc(slices.Clone(nodes), func(m *kb.Material) bool { return slices.Contains(taken, m) })
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
	ordered(v.examined, taken, house, id)
	v.share = num(0)
	for _, m := range taken {
		v.nodes = append(v.nodes, m.ID)
		v.share = plus(v.share, house(m))
	}
}

// join: "those under the lowest nameable group whose likelihoods lie within a factor of 2 of each other count as that
// group, if they are all its leaves without exclusion". From the deepest group up, so that groups join too.
func (v *opinion) join() []*kb.Material {
	var nodes []*kb.Material
	for i, m := range v.rs.Leaves {
		if !v.w.out[i] {
			nodes = append(nodes, m)
		}
	}
	for _, g := range v.nameable() {
		var low, high number
		n := 0
		for _, i := range v.beneath(g) {
			if v.w.out[i] {
				continue
			}
			n++
			if l := v.w.likelihood[i]; low == nil || less(l, low) {
				low = l
			}
			if l := v.w.likelihood[i]; high == nil || less(high, l) {
				high = l
			}
		}
		if !g.Group || n < 2 || !v.atLeast(ln2, minus(high, low)) {
			continue
		}
		nodes = append(slices.DeleteFunc(nodes, func(m *kb.Material) bool { return within(m, g) }), g)
	}
	return nodes
}

// equalShares: "Equal priors: each topmost nameable node has the same, split evenly over its leaves; `unlisted` keeps its
// own."
func (v *opinion) equalShares() []number {
	var top []*kb.Material
	for _, m := range v.nameable() {
		if !slices.ContainsFunc(v.nameable(), func(a *kb.Material) bool { return a != m && within(m, a) }) {
			top = append(top, m)
		}
	}
	weights := make([]number, len(v.w.weight))
	for _, m := range top {
		under := v.beneath(m)
		for _, i := range under {
			if !v.w.out[i] {
				each := over(num(1-v.rs.Policy.Unlisted), num(float64(len(top)*len(under))))
				weights[i] = times(each, exponential(v.w.likelihood[i]))
			}
		}
	}
	weights[v.w.unlisted()] = num(v.rs.Policy.Unlisted)
	whole := among(weights, func(int) bool { return true })
	for i := range weights {
		if weights[i] == nil {
			weights[i] = num(0)
		}
		weights[i] = over(weights[i], whole)
	}
	return weights
}

// supportOf: "the ratio of the named node's likelihood to that of the likeliest leaf outside it of weight above nought
// (`unlisted` if there is none)".
func (v *opinion) supportOf() {
	under := v.beneath(v.named)
	outside := func(i int) bool { return !slices.Contains(under, i) }
	rival := v.likeliest(outside)
	if rival == nil {
		v.support, v.against = v.likelihoodOf(v.named), []string{"unlisted"}
		return
	}
	v.support = minus(v.likelihoodOf(v.named), rival)
	for i, m := range v.rs.Leaves {
		if l := v.w.likelihood[i]; l != nil && outside(i) && less(minus(rival, l), num(closeness)) {
			v.against = append(v.against, m.ID) // of several as likely any will do
		}
	}
}

// finite is a number as the output writes it: the largest float64 at most.
func finite(x number) float64 { return math.Min(float(x), math.MaxFloat64) }
