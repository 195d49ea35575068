package engine_test

import (
	"slices"
	"strings"

	"whystone/kb"
	"whystone/kb/casefile"
)

// naiveClaim is the answer to the claim.
type naiveClaim struct {
	means, answer, group, groupAnswer string
}

// claimed is what a word claims.
type claimed struct {
	node    *kb.Material
	origin  kb.Origin
	colours []string
}

// claimOf: "the policy's `claims:` maps words to a node and, where the trade's word demands it, an origin and a colour.
// Every name and `also` of a material or group is a claim too, and a bare species name means natural". Of a leaf and a
// group that bear one name the leaf is meant.
func (n *naive) claimOf(word string) *claimed {
	for _, e := range n.rs.Policy.Claims {
		if e.Word == word {
			return &claimed{n.rs.Node(e.Node), e.Origin, e.Colours}
		}
	}
	for _, groups := range []bool{false, true} {
		for _, m := range n.rs.Nodes {
			names := append([]string{m.Name, m.ID}, m.Also...)
			if m.Group != groups || m.Parent == nil || !slices.ContainsFunc(names, func(s string) bool { return strings.ToLower(s) == word }) {
				continue
			}
			natural := slices.ContainsFunc(n.beneath(m), func(i int) bool { return n.rs.Leaves[i].Origin == "natural" })
			if m.Group && natural {
				return &claimed{node: m, origin: "natural"}
			}
			return &claimed{node: m}
		}
	}
	return nil
}

// leaves: "The claim's leaves are those below the node with the demanded origin".
func (n *naive) leaves(c *claimed) []int {
	return slices.DeleteFunc(n.beneath(c.node), func(i int) bool { return c.origin != "" && n.rs.Leaves[i].Origin != c.origin })
}

// groupOf: "the nearest nameable node above the claim's": the claim's own node where the claim is narrower than it.
func (n *naive) groupOf(c *claimed) *kb.Material {
	node := c.node
	if len(n.leaves(c)) == len(n.beneath(node)) && len(c.colours) == 0 {
		node = node.Parent
	}
	for node != nil && !node.Nameable {
		node = node.Parent
	}
	return node
}

func (v *opinion) answerClaim() {
	if v.c.Claim == "" {
		return
	}
	v.claim.answer = "open"
	claim := v.claimOf(v.c.Claim)
	if claim == nil { // "an unknown word gives `means: null`, `open`"
		return
	}
	leaves := v.leaves(claim)
	v.claim.means = claim.node.ID
	if len(leaves) == 1 {
		v.claim.means = v.rs.Leaves[leaves[0]].ID
	}
	list, seen, other := v.withColour(claim, leaves)
	w := v.w
	if other {
		w = v.weigh(list)
	}
	v.claim.answer = v.answer(w, leaves, len(claim.colours) == 0 || seen && !other)
	if g := v.groupOf(claim); g != nil {
		v.claim.group, v.claim.groupAnswer = g.ID, v.answer(v.w, v.beneath(g), true)
	}
}

// withColour: "a colour read other than the demanded one is an exclusion of them by absorption, in place of the sheet's
// line". seen tells whether a demanded colour was read, other whether another was.
func (v *opinion) withColour(claim *claimed, leaves []int) (list []*evidence, seen, other bool) {
	for _, ev := range v.list {
		list = append(list, ev)
		if len(claim.colours) == 0 || len(ev.from) == 0 || ev.from[0].Observable.Name != "colour" {
			continue
		}
		demanded, all := v.demanded(ev.from[0], claim.colours)
		if demanded {
			seen = seen || all
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
	return list, seen, other
}

// demanded tells whether a reading of the colour leaves room for a demanded one, and whether it leaves room for no other.
func (v *opinion) demanded(r *casefile.Reading, colours []string) (some, all bool) {
	o := r.Observable
	covered := func(k int) []string {
		var out []string
		for i, c := range o.Outcomes {
			if i == k && o.Outcomes[k].Covers == 0 || o.Outcomes[k].Covers>>i&1 == 1 {
				out = append(out, c.Name)
			}
		}
		return out
	}
	var wanted []string
	for k, c := range o.Outcomes {
		if slices.Contains(colours, c.Name) {
			wanted = append(wanted, covered(k)...)
		}
	}
	all = true
	for _, c := range covered(r.Outcome) {
		some = some || slices.Contains(wanted, c)
		all = all && slices.Contains(wanted, c)
	}
	return some, all
}

// answer: "It falls when, both at the house's priors and at even odds (the claim's leaves together 1/2, all else with
// `unlisted` 1/2, each in house proportions), its part of the whole weight (doubts counted) is below 1 - required, on at
// least two readings (a repeat counts as one). It stands when the named node lies among its leaves and a demanded
// colour was read. Else, and in a contradictory case, it is open."
func (v *opinion) answer(w *weighed, leaves []int, mayStand bool) string {
	if v.faulty || v.class == "contradictory" {
		return "open"
	}
	mine := func(i int) bool { return slices.Contains(leaves, i) }
	rest := func(i int) bool { return !slices.Contains(leaves, i) }
	limit := num(1 - v.required)
	below := func(mine, rest number) bool {
		part := over(mine, plus(mine, rest))
		v.mark(part, limit)
		return less(part, limit)
	}
	house := below(among(w.weight, mine), among(w.weight, rest))
	even := below(over(among(w.weight, mine), among(w.prior, mine)), over(among(w.weight, rest), among(w.prior, rest)))
	switch {
	case house && even && v.saying() >= 2:
		return "falls"
	case v.named != nil && mayStand && !slices.ContainsFunc(v.beneath(v.named), rest):
		return "stands"
	}
	return "open"
}

// saying counts the readings that say anything, by a sheet or by a rule that fires.
func (v *opinion) saying() (n int) {
	for _, r := range v.c.Readings {
		if v.counts(r) && slices.ContainsFunc(v.list, func(ev *evidence) bool {
			named := ev.rule != nil && slices.Contains(v.examined.named(ev.rule), r)
			return ev.said && (named || slices.Contains(ev.from, r))
		}) {
			n++
		}
	}
	return n
}
