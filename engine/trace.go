package engine

import (
	"fmt"
	"math"
	"slices"

	"whystone/kb"
)

// trace observes the evaluator while it decides. A nil trace costs nothing: its methods do nothing, and what would
// have to be computed for it is behind a test for nil.
type trace struct {
	checks     []check
	supporting map[*kb.Material][]string
}

// check is one test on the way to the verdict.
type check struct {
	what string // contradictory, share, doubt, families, rival, sent on, narrowed
	node *kb.Material
	from *kb.Material // of a rival check: the rival
	ok   bool
	says string
}

func (t *trace) check(what string, node *kb.Material, ok bool, format string, args ...any) {
	if t != nil {
		t.checks = append(t.checks, check{what: what, node: node, ok: ok, says: fmt.Sprintf(format, args...)})
	}
}

// supports notes a family that supports a node.
func (t *trace) supports(family string, m *kb.Material) {
	if t != nil {
		t.supporting[m] = append(t.supporting[m], family)
	}
}

func (t *trace) families(m *kb.Material, ok bool) {
	var says string
	switch by := t.supporting[m]; {
	case ok:
		says = "it is supported by " + list(by, "and") + ", and by more than one test"
	case len(by) == 0:
		says = "no family of evidence supports it; two are needed, by two tests"
	default:
		says = "only " + list(by, "and") + " supports it; two families are needed, by two tests"
		if len(by) > 1 {
			says = list(by, "and") + " support it, but by one test alone; two tests are needed"
		}
	}
	t.check("families", m, ok, "%s", says)
}

func (t *trace) rival(m, r *kb.Material, ok bool, gap, needed float64) {
	defer func() { t.checks[len(t.checks)-1].from = r }()
	if gap < 0 {
		t.check("rival", m, ok, "by the readings alone %s is no likelier than %s; it must be %s times likelier", m.Name, r.Name, figures(needed))
		return
	}
	if gap < 0.05 {
		t.check("rival", m, ok, "the readings do not tell %s from %s; it must be %s times likelier", m.Name, r.Name, figures(needed))
		return
	}
	t.check("rival", m, ok, "by the readings alone %s is %s times likelier than %s; it must be %s times", m.Name, figures(math.Exp(gap)), r.Name, figures(needed))
}

// failed lists what stood in the way of a name: of the deepest node that held enough, and each rival once, by its own
// name rather than its group's.
func (t *trace) failed() []check {
	var out []check
	var deepest *kb.Material
	for _, c := range t.checks {
		switch {
		case c.ok || c.what == "contradictory":
			continue
		case c.node != nil && deepest == nil:
			deepest = c.node
		}
		if c.node != nil && c.node != deepest {
			continue
		}
		if c.from == nil || !slices.ContainsFunc(t.checks, func(o check) bool {
			return !o.ok && o.node == c.node && o.from != nil && o.from != c.from && o.from.Under(c.from)
		}) {
			out = append(out, c)
		}
	}
	return out
}
