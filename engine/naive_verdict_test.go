package engine_test

import (
	"maps"
	"math"
	"slices"
	"time"
)

// opinion is the naive verdict with all that the engine's is compared with.
type opinion struct {
	*examined
	w         *weighed
	class     string
	notListed string // likely, possible, or nothing
	named     *naiveNode
	nodes     []*naiveNode
	share     number // of what is named, or of the nodes together; nil else
	shares    []number
	doubt     number
	required  float64
	limit     float64
	support   number // log
	against   []string
	priors    []*naiveNode // what the readings fit as well: the name rests on what is common
	keptBack  []*naiveRule // why there is no narrowed list
	claim     naiveClaim
	repeat    [][]string
	unsure    bool // the repeats lie close to a threshold
}

// judge reaches the verdict and all that goes with it.
func (n *naive) judge(c *naiveCase, on time.Time) *opinion {
	v := n.decide(c, on)
	if v.named != nil {
		v.supportOf()
		v.restsOn()
	}
	v.answerClaim()
	switch {
	case v.notListed == "likely": // "`repeat` holds the sets without which s is at most one half"
		v.repeats(func(again *opinion) bool { return !again.unlistedExceeds(again.shares[again.w.last()]) })
	case v.class == "contradictory":
		v.repeats(func(again *opinion) bool { return again.contradictory() == "" })
	}
	return v
}

// decide: "Verdict, in this order".
func (n *naive) decide(c *naiveCase, on time.Time) *opinion {
	v := n.weighs(c, on)
	// "it holds the required share (policy; a table by stake)"
	for _, line := range n.required {
		if line.stake == 0 || c.stake != nil && *c.stake >= line.stake {
			v.required, v.limit = line.share, line.doubt
		}
	}
	if v.faulty { // "A rule that could not be evaluated (drafts aside) makes it `inconclusive`, before all else"
		v.class = "inconclusive"
		return v
	}
	v.notListed = v.fits()
	switch {
	case v.contradictory() != "":
		v.class = "contradictory"
	case v.notListed == "likely":
		v.class = "inconclusive"
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
func (n *naive) weighs(c *naiveCase, on time.Time) *opinion {
	x := n.examine(c, on)
	w := x.weigh(x.list)
	return &opinion{examined: x, w: w, shares: w.shares(), doubt: w.doubt()}
}

// likeliest is the largest likelihood among some leaves, or nil.
func (v *opinion) likeliest(wanted func(i int) bool) number {
	var best number
	for i := range v.leaves {
		if l := v.w.likelihood[i]; l != nil && wanted(i) && (best == nil || less(best, l)) {
			best = l
		}
	}
	return best
}

// likelier by the readings alone: a is at least r times b.
func (v *opinion) likelier(a, b number, r float64) bool {
	return v.atLeast(minus(a, b), logarithm(num(r)))
}

func (v *opinion) unlistedExceeds(part number) bool {
	v.mark(part, num(0.5))
	return less(num(0.5), part)
}

// fits: "let s be the share of `unlisted` and w its part of the whole weight (doubts counted). Where s exceeds one half
// ... If w does too, the stone is likely not on this list: `likely` ... Otherwise ... `possible` ... Else null."
func (v *opinion) fits() string {
	switch u := v.w.last(); {
	case !v.unlistedExceeds(v.shares[u]):
		return ""
	case v.unlistedExceeds(over(v.w.weight[u], v.w.whole())):
		return "likely"
	}
	return "possible"
}

// contradictory says why it is, if it is: "no material is without exclusion; or, by the readings alone, the best with a
// doubt is at least `rival` (10) times likelier than the best without exclusion", and where nothing listed may fit "the
// class is `contradictory` if no material is without exclusion, else `inconclusive`" if that is likely,
// "`contradictory` as before" if it is possible.
func (v *opinion) contradictory() string {
	if v.faulty {
		return ""
	}
	free := v.likeliest(func(i int) bool { return !v.w.out[i] })
	doubtful := v.likeliest(func(i int) bool { return v.w.out[i] })
	switch {
	case free == nil:
		return "none is left"
	case v.fits() == "likely":
		return ""
	case v.fits() == "possible":
		return "possibly not listed"
	case doubtful != nil && v.likelier(doubtful, free, v.rival):
		return "one mistake explains more"
	}
	return ""
}

func (v *opinion) shareOf(m *naiveNode) number {
	return among(v.shares, func(i int) bool { return slices.Contains(m.under, i) })
}

// likelihoodOf: "By the readings alone (priors left out), a node's likelihood is the largest among its leaves without
// exclusion, or, if it has none, among those of weight above zero."
func (v *opinion) likelihoodOf(m *naiveNode) number {
	free := v.likeliest(func(i int) bool { return slices.Contains(m.under, i) && !v.w.out[i] })
	if free != nil {
		return free
	}
	return v.likeliest(func(i int) bool { return slices.Contains(m.under, i) })
}

// identify: "the deepest nameable node that meets all of this (where a leaf fails, its group is tried)". "`sends_on`
// ... no longer keeps a name from being given".
func (v *opinion) identify() {
	// "doubt is at most `doubt_limit`"
	if v.mark(v.doubt, num(v.limit)); less(num(v.limit), v.doubt) {
		return
	}
	for _, m := range v.nameable() {
		if !v.atLeast(v.shareOf(m), num(v.required)) || !v.supported(m) || !v.unrivalled(m) {
			continue
		}
		if !v.grownApart(m) {
			continue
		}
		if v.withheld(m) {
			v.met["withheld: a name"] = true
			continue
		}
		v.named, v.share = m, v.shareOf(m)
		v.met["withheld: the next above is named"] = v.met["withheld: a name"]
		return
	}
}

// supported: "at least two families resting on two tests support it (a family supports when it at least doubles the
// node's odds, alone over the prior, or added last)". A test by eye "is none of the two tests that a name needs".
func (v *opinion) supported(m *naiveNode) bool {
	families, tests := 0, set{}
	in := func(i int) bool { return slices.Contains(m.under, i) }
	out := func(i int) bool { return !slices.Contains(m.under, i) }
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
		by := maps.Clone(v.w.tests[f])
		maps.DeleteFunc(by, func(t string, _ bool) bool { return v.tests[t].byEye })
		if (first || last) && len(by) > 0 {
			families++
			maps.Copy(tests, by)
		}
	}
	return families >= 2 && len(tests) >= 2
}

// unrivalled: "every rival without exclusion (a nameable node beside it with more than a tenth of 1 - required, or a
// sibling in the same nameable group whatever its share) is at least `rival` times less likely by the readings alone".
func (v *opinion) unrivalled(m *naiveNode) bool {
	group := nameableAt(m.up)
	for _, r := range v.nameable() {
		beside := !within(r, m) && !within(m, r)
		free := slices.ContainsFunc(r.under, func(i int) bool { return !v.w.out[i] })
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
		if !v.likelier(v.likelihoodOf(m), v.likelihoodOf(r), v.rival) {
			v.met["withheld: a rival all the same"] = v.met["withheld: a rival all the same"] || v.withheld(r)
			return false
		}
	}
	return true
}

// supportOf: "the ratio of the named node's likelihood to that of the likeliest leaf outside it of weight above zero
// (`unlisted` if there is none)".
func (v *opinion) supportOf() {
	outside := func(i int) bool { return !slices.Contains(v.named.under, i) }
	rival := v.likeliest(outside)
	if rival == nil {
		v.support, v.against = minus(v.likelihoodOf(v.named), v.w.likelihood[v.w.last()]), []string{"unlisted"}
		return
	}
	v.support = minus(v.likelihoodOf(v.named), rival)
	for i, m := range v.leaves {
		if l := v.w.likelihood[i]; l != nil && outside(i) && less(minus(rival, l), num(closeness)) {
			told := m.told
			if m.other && within(v.named, m.up) {
				told = m.id // its group is no "next best" beside a part of it
			}
			v.against = append(v.against, told) // of several as likely any will do
		}
	}
}

// restsOn: "where by the readings alone the lowest nameable node of a leaf without exclusion, outside the named node's
// own line, is less than `rival` times less likely than the named one". Likeliest first, ties by id.
func (v *opinion) restsOn() {
	for i, leaf := range v.leaves {
		m := nameableAt(leaf)
		if v.w.out[i] || m == nil || within(m, v.named) || within(v.named, m) || slices.Contains(v.priors, m) {
			continue
		}
		if !v.likelier(v.likelihoodOf(v.named), v.likelihoodOf(m), v.rival) {
			v.priors = append(v.priors, m)
		}
	}
	ordered(v.examined, v.priors, v.likelihoodOf, func(m *naiveNode) string { return m.id })
}

// finite is a number as the output writes it: the largest float64 at most.
func finite(x number) float64 { return math.Min(float(x), math.MaxFloat64) }
