package engine_test

import (
	"slices"
)

// naiveClaim is the answer to the claim, with the step that gave it.
type naiveClaim struct {
	means, answer, group, groupAnswer string
	step, groupStep                   string
}

// why lists the codes by which an output tells a step and its answer.
func (c *naiveClaim) why(step string) []string {
	return map[string][]string{"1": {"unknown-word", "nothing-of-origin", "rule-fault"}, "2": {"not-listed"},
		"3": {"contradiction"}, "4": {"named-other"}, "5": {"other-colour"}, "6": {"name-withheld"},
		"7, its own": {"own-excluded"}, "7, the others": {"others-excluded"}, "7, neither": {"origin-open"},
		"8": {"too-unlikely"}, "8, by exclusion": {"too-unlikely"}, "9": {"named"},
		"7, and may not": {"sent-on", "colour-not-read",
			"grown-not-listed"},
		"9, and may not": {"sent-on", "colour-not-read", "grown-not-listed"}, "10": {"not-enough"}}[step]
}

// claimed is what a word claims.
type claimed struct {
	node    *naiveNode
	origin  string
	colours []string
}

func (n *naive) readClaims(p raw) {
	for _, word := range p.at("claims").keys() {
		c := p.at("claims").at(word)
		n.claims[plainly(word)] = &claimed{n.node(c.at("node").text("")), c.at("origin").text(""),
			c.at("colour").texts()}
	}
}

// claimOf: "the policy's `claims:` maps words to a node and, where the trade's word demands it, an origin and a colour.
// Every name and `also` of a material or group is a claim too, and a bare species name means natural". Of a leaf and a
// group that bear one name the leaf is meant.
func (n *naive) claimOf(word string) *claimed {
	if c := n.claims[word]; c != nil {
		return c
	}
	for _, groups := range []bool{false, true} {
		for _, m := range n.nodes {
			bears := slices.ContainsFunc(append([]string{m.name, m.id}, m.also...),
				func(s string) bool { return plainly(s) == word })
			if m.group != groups || m.up == nil || !bears {
				continue
			}
			if m.group && n.origins(m.under)["natural"] {
				return &claimed{node: m, origin: "natural"}
			}
			return &claimed{node: m}
		}
	}
	return nil
}

// leavesOf: "its leaves those below C of the demanded origin". "A claim for a group's only listed leaf means it and the
// others of its origin."
func (n *naive) leavesOf(c *claimed) []int {
	all := slices.Clone(c.node.under)
	for g := c.node.up; g != nil && !c.node.group; g = g.up {
		listed := slices.DeleteFunc(slices.Clone(g.under), func(i int) bool { return n.leaves[i].other })
		if len(listed) > 1 {
			break
		}
		for _, i := range g.under {
			if n.leaves[i].origin == c.node.origin && !slices.Contains(all, i) {
				all = append(all, i)
			}
		}
	}
	slices.Sort(all)
	return slices.DeleteFunc(all, func(i int) bool { return c.origin != "" && n.leaves[i].origin != c.origin })
}

// groupOf: "the nearest nameable node above the claim's": the claim's own node where the claim is narrower than it.
func (n *naive) groupOf(c *claimed) *naiveNode {
	if len(n.leavesOf(c)) >= len(c.node.under) && len(c.colours) == 0 {
		return nameableAt(c.node.up)
	}
	return nameableAt(c.node)
}

func (v *opinion) answerClaim() {
	if v.c.claim == "" {
		return
	}
	v.claim.answer, v.claim.step = "open", "1"
	claim := v.claimOf(v.c.claim)
	if claim == nil { // "an unknown word gives `means: null`, `open`"
		return
	}
	leaves := v.leavesOf(claim)
	v.claim.means = claim.node.id
	if len(leaves) == 1 && !v.leaves[leaves[0]].other {
		v.claim.means = v.leaves[leaves[0]].id
	}
	q := &question{opinion: v, c: claim, leaves: leaves, w: v.w, list: v.list, sentOn: v.sentOn()}
	// "a colour read other than the demanded one is an exclusion of them by absorption, in place of the sheet's line"
	if list, other := v.withColour(claim, leaves); other {
		q.list, q.w = list, v.weigh(list)
	}
	// A claim is of natural origin when all its leaves are.
	q.natural = len(v.origins(leaves)) == 1 && v.origins(leaves)["natural"]
	// "G is C itself if an origin is demanded of a nameable node that holds several, else C's G"
	if q.g = v.growthGroup(claim.node); claim.origin != "" && claim.node.nameable &&
		len(v.origins(claim.node.under)) > 1 {
		q.g = claim.node
	}
	v.claim.answer, v.claim.step = q.answer()
	if g := v.groupOf(claim); g != nil {
		// "The group's answer likewise, `sends_on` disregarded"; it is asked "without origin or colour".
		q := &question{opinion: v, c: &claimed{node: g}, leaves: g.under, w: v.w, list: v.list, g: v.growthGroup(g)}
		v.claim.group = g.id
		v.claim.groupAnswer, v.claim.groupStep = q.answer()
	}
}

func (v *opinion) sentOn() bool {
	return slices.ContainsFunc(v.rules, func(r *naiveRule) bool { return r.sheet.has("sends_on") && v.fires(r) })
}

// question is whether something that is claimed is so.
type question struct {
	*opinion
	c       *claimed
	leaves  []int
	g       *naiveNode
	w       *weighed // with the colour that was read
	list    []*evidence
	natural bool
	sentOn  bool
}

func (q *question) mine(i int) bool { return slices.Contains(q.leaves, i) }
func (q *question) rest(i int) bool { return !slices.Contains(q.leaves, i) }

// answer goes through the steps of 8a; "the first that applies".
func (q *question) answer() (answer, step string) {
	v := q.opinion
	limit := num(1 - v.required)
	mayStand := !q.sentOn && q.colourSeen() && (!q.natural || knownGrown(speciesOf(q.c.node)))
	zero := func(i int) bool { return v.w.zero[i] }
	switch {
	case v.faulty || len(q.leaves) == 0:
		return "open", "1"
	case v.notListed == "likely":
		if !slices.ContainsFunc(q.leaves, func(i int) bool { return !zero(i) }) {
			return "falls", "2"
		}
		return "open", "2"
	case v.class == "contradictory":
		return "open", "3"
	case v.named != nil && !slices.ContainsFunc(v.named.under, q.mine) &&
		!slices.ContainsFunc(v.priors, func(m *naiveNode) bool { return slices.ContainsFunc(m.under, q.mine) }):
		return "falls", "4"
	case v.named != nil && (within(v.named, q.c.node) || within(q.c.node, v.named)) && q.colourOther():
		return "falls", "5"
	case slices.ContainsFunc(v.withholding(), func(r *naiveRule) bool {
		return slices.ContainsFunc(r.withholds.beside, func(i int) bool { return q.mine(i) && !zero(i) })
	}):
		return "open", "6"
	case v.named != nil && q.g != nil && within(v.named, q.g):
		others := slices.DeleteFunc(slices.Clone(q.g.under), q.mine)
		listedLeft := slices.ContainsFunc(q.g.under, func(i int) bool {
			is, _ := v.excluded(i)
			return !v.leaves[i].other && !is
		})
		switch {
		case v.allExcluded(q.leaves, !listedLeft):
			v.met["claim 7: on two tests, as no listed one is left"] = v.met["claim 7: on two tests, as no listed "+
				"one is left"] || !listedLeft
			return "falls", "7, its own"
		case v.allExcluded(others, q.natural) && mayStand:
			return "stands", "7, the others"
		case v.allExcluded(others, q.natural):
			return "open", "7, and may not"
		}
		return "open", "7, neither"
	}
	if v.speakAgainst(q.leaves, q.c.colours) >= 2 && v.below(q.w, q.leaves, limit) {
		if q.g == nil || v.speakAgainst(q.g.under, nil) >= 2 && v.below(v.w, q.g.under, limit) {
			return "falls", "8"
		}
		excluded := !slices.ContainsFunc(q.leaves, func(i int) bool {
			return !slices.ContainsFunc(q.list, func(ev *evidence) bool { return ev.out[i] })
		})
		v.mark(v.doubt, num(v.limit))
		if excluded && !less(num(v.limit), v.doubt) {
			return "falls", "8, by exclusion"
		}
		v.met["claim 8: kept from falling by its group"] = true
	}
	if v.named != nil && !slices.ContainsFunc(v.named.under, q.rest) {
		if mayStand {
			return "stands", "9"
		}
		return "open", "9, and may not"
	}
	return "open", "10"
}

// below: "It *falls* when, both at the house's priors and at even odds (the claim's leaves together 1/2, all else with
// `unlisted` 1/2, each in house proportions), its part of the whole weight (doubts counted) is below 1 - required".
func (v *opinion) below(w *weighed, leaves []int, limit number) bool {
	mine := func(i int) bool { return slices.Contains(leaves, i) }
	rest := func(i int) bool { return !slices.Contains(leaves, i) }
	below := func(mine, rest number) bool {
		part := over(mine, plus(mine, rest))
		v.mark(part, limit)
		return less(part, limit)
	}
	house := below(among(w.weight, mine), among(w.weight, rest))
	even := below(over(among(w.weight, mine), among(w.prior, mine)), over(among(w.weight, rest), among(w.prior, rest)))
	return house && even
}

// speakAgainst counts what speaks against leaves ("on at least two readings (a repeat counts as one)"): readings by
// which alone, or by whose exclusion, at most 0.99 of their prior is left, two that were joined as one, and one more
// where a rule does that rests on none of them. None by eye alone; another colour than one that is demanded does,
// however it was read.
func (v *opinion) speakAgainst(leaves []int, colours []string) int {
	mine := func(i int) bool { return slices.Contains(leaves, i) }
	speaks := func(of func(ev *evidence) bool) bool {
		left := make([]number, len(v.w.prior))
		for i := range left {
			says, out := num(0), num(0)
			for _, ev := range v.list {
				if !ev.said || !of(ev) {
					continue
				}
				c := num(ev.c[i])
				if says = plus(says, c); i < len(ev.out) && ev.out[i] && less(c, out) {
					out = c
				}
			}
			if less(out, num(0)) { // excluded: that alone counts
				says = out
			}
			left[i] = times(v.w.prior[i], exponential(says))
		}
		part := over(among(left, mine), among(v.w.prior, mine))
		v.mark(part, num(0.99))
		return !less(num(0.99), part)
	}
	glance := func(r *naiveReading) bool {
		all := true
		for t := range r.tests {
			all = all && v.tests[t].byEye
		}
		return all
	}
	var counted, joined []*naiveReading
	for _, r := range v.c.readings {
		if !v.counts(r) || slices.Contains(joined, r) {
			continue
		}
		for _, ev := range v.list {
			if ev.rule == nil && slices.Contains(ev.from, r) {
				joined = append(joined, ev.from...)
			}
		}
		other := false
		if r.o.name == "colour" && len(colours) > 0 {
			some, _ := demanded(r, colours)
			other = !some
		}
		if other || !glance(r) && speaks(func(ev *evidence) bool {
			return ev.rule == nil && slices.Contains(ev.from, r)
		}) {
			counted = append(counted, r)
		}
	}
	for _, ev := range v.list {
		if ev.rule == nil {
			continue
		}
		of := v.examined.named(ev.rule)
		if slices.ContainsFunc(of, func(r *naiveReading) bool { return !glance(r) }) &&
			!slices.ContainsFunc(of, func(r *naiveReading) bool { return slices.Contains(counted, r) }) &&
			speaks(func(o *evidence) bool { return o == ev }) {
			return len(counted) + 1
		}
	}
	return len(counted)
}

// colours are the readings of the colour that count.
func (v *opinion) colours() (out []*naiveReading) {
	for _, r := range v.c.readings {
		if r.o.name == "colour" && v.counts(r) {
			out = append(out, r)
		}
	}
	return out
}

// demanded tells whether a reading of the colour leaves room for a demanded one, and whether it leaves room for no
// other.
func demanded(r *naiveReading, colours []string) (some, all bool) {
	wanted := set{}
	for _, c := range colours {
		for _, plain := range plainOf(r.o.covers, c) {
			wanted[plain] = true
		}
	}
	all = true
	for c := range r.open() {
		some, all = some || wanted[c], all && wanted[c]
	}
	return some, all
}

// colourSeen: "a demanded colour was read", and no other at another place.
func (q *question) colourSeen() bool {
	seen := len(q.c.colours) == 0
	for _, r := range q.colours() {
		some, all := demanded(r, q.c.colours)
		if seen = seen || all; !some && len(q.c.colours) > 0 {
			return false
		}
	}
	return seen
}

// colourOther: "the colour read is none of those demanded", in no place.
func (q *question) colourOther() bool {
	none := len(q.c.colours) > 0 && len(q.colours()) > 0
	for _, r := range q.colours() {
		some, _ := demanded(r, q.c.colours)
		none = none && !some
	}
	return none
}

// withColour is the evidence with the exclusion by the colour; other tells whether there is one.
func (v *opinion) withColour(claim *claimed, leaves []int) (list []*evidence, other bool) {
	for _, ev := range v.list {
		list = append(list, ev)
		if len(claim.colours) == 0 || len(ev.from) == 0 || ev.from[0].o.name != "colour" {
			continue
		}
		if some, _ := demanded(ev.from[0], claim.colours); some {
			continue
		}
		other = true
		instead := *ev
		instead.c, instead.out = slices.Clone(ev.c), slices.Clone(ev.out)
		for _, i := range leaves {
			instead.excludes(i)
		}
		list[len(list)-1] = &instead
	}
	return list, other
}
