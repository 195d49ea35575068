package proofread

import (
	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/sat"
)

// idleParts finds a part of a condition that decides nothing: an alternative that can never hold, a demand that can't
// fail, or what could be taken out without a case in which the condition would hold or fail otherwise. It tells whether
// there is one. Of a condition that can't fail it looks at the alternatives alone: one that can never hold is more to
// the point.
func (p *Pass) idleParts(r *kb.Rule, key string, c *condition.Condition) bool {
	if len(c.Root.Kids) == 0 {
		return false
	}
	w := idler{Pass: p, rule: r, key: key, root: c.Root, fails: p.can(p.space.FailsAt(c.Root))}
	return p.can(p.space.Holds(c.Root)) && w.within(c.Root, key == "if",
		func(n *condition.Node) *condition.Node { return n })
}

// idleItems finds an item of a list in a cell of a row that decides nothing beside the others. Whole cells are let be:
// a table spells out all of its columns, and a row that takes every choice asks that there is one.
func (p *Pass) idleItems(r *kb.Rule) {
	cells := []*condition.Node{r.If.Root}
	if r.If.Root.Op == condition.And {
		cells = r.If.Root.Kids
	}
	for _, n := range cells {
		if n.Op != condition.Or {
			continue
		}
		w := idler{Pass: p, rule: r, key: "if", root: n, fails: p.can(p.space.FailsAt(n)), shallow: true}
		if w.within(n, true, func(n *condition.Node) *condition.Node { return n }) {
			return
		}
	}
}

// idler looks for an idle part of one condition.
type idler struct {
	*Pass
	rule    *kb.Rule
	key     string
	root    *condition.Node
	fails   bool // it can
	shallow bool // parts of parts are let be
}

// within goes through a part of the condition and tells the first idle one, if there is any. with gives the condition
// with another part in this one's place. Toward tells whether the rule fires the more the more often the part holds;
// else the less ("not", "unless").
func (w *idler) within(n *condition.Node, toward bool, with func(*condition.Node) *condition.Node) bool {
	if n.Op != condition.And && n.Op != condition.Or {
		return n.Op == condition.Not && w.within(n.Kids[0], !toward, func(k *condition.Node) *condition.Node {
			return with(&condition.Node{Op: condition.Not, Kids: []*condition.Node{k}})
		})
	}
	from, to := 0, 0
	for _, test := range n.Tests() {
		if from, to = to, to+len(test); len(test) == len(n.Kids) {
			return false
		}
		rest := joined(n.Op, n.Kids[:from], n.Kids[to:])
		part := joined(n.Op, n.Kids[from:to])
		if why := w.idle(n.Op, part, rest, n == w.root, toward, with); why != "" {
			w.about(w.rule, w.key, warning(idlePart, w.rule.Part(w.key, n.Kids[from].Start, n.Kids[from].End),
				"a part of the %s of %q decides nothing", called(w.key), w.rule.ID)).Detail = why
			return true // the rest is judged once this is mended
		}
		if to == from+1 && !w.shallow && w.within(part, toward, func(k *condition.Node) *condition.Node {
			return with(joined(n.Op, n.Kids[:from], []*condition.Node{k}, n.Kids[to:]))
		}) {
			return true
		}
	}
	return false
}

// called is what a condition under a key is called.
func called(key string) string {
	if key == "unless" {
		return "exception"
	}
	return "condition"
}

func joined(op condition.Op, lists ...[]*condition.Node) *condition.Node {
	out := &condition.Node{Op: op}
	for _, l := range lists {
		out.Kids = append(out.Kids, l...)
	}
	if len(out.Kids) == 1 {
		return out.Kids[0]
	}
	return out
}

// idle says why a part of an "and" or "or" decides nothing, where rest is what stays without it. Whole tells that both
// together are all of the condition.
func (w *idler) idle(op condition.Op, part, rest *condition.Node, whole, toward bool,
	with func(*condition.Node) *condition.Node) string {
	switch {
	case op == condition.Or && !w.can(w.space.Holds(part)):
		return "It can never hold, so it is never the reason. Correct it or take it out."
	case !w.fails && (op == condition.Or) != toward:
		return ""
	case op == condition.And && !w.can(w.space.FailsAt(part)):
		return "It can't fail: it asks for no more than that the reading is there. Correct it or take it out."
	case whole && w.fails && !w.looks.part(part).Meets(w.looks.part(rest)):
		return "" // it speaks of something else, and all of the condition waits for it
	case w.same(with(rest), (op == condition.Or) == toward):
		return "The rule fires in the same cases without it, as the rest decides. Take it out, or ask for what was " +
			"meant."
	}
	return ""
}

// same tells whether the condition without a part holds and fails in the same cases. An alternative way to fire is idle
// when it is never the reason for firing; whether the rule then fails or is undecided matters to facts alone.
func (w *idler) same(without *condition.Node, alternative bool) bool {
	fires, stays := w.space.Holds, w.space.FailsAt
	if w.key == "unless" {
		fires, stays = stays, fires
	}
	if alternative {
		return !w.can(sat.And(fires(w.root), sat.Not(fires(without)))) &&
			(len(w.rule.Establishes) == 0 || !w.can(sat.And(stays(without), sat.Not(stays(w.root)))))
	}
	return !w.can(sat.And(fires(without), sat.Not(fires(w.root)))) &&
		!w.can(sat.And(stays(w.root), sat.Not(stays(without))))
}
