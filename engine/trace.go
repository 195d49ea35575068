package engine

import (
	"slices"

	"whystone/kb"
)

// trace observes the evaluator while it decides. A nil trace costs nothing: its methods do nothing, and what would
// have to be computed for it is behind a test for nil.
type trace struct {
	checks     []check
	supporting map[*kb.Material][]string
}

// point is what a check on the way to the verdict asks.
type point string

// The points. Those of a node are asked of every nameable node that holds the required share, deepest first.
const (
	allExcluded   point = "all excluded"
	mistakenBest  point = "mistaken reading"
	notListed     point = "not listed"
	consistent    point = "consistent"
	noneHolds     point = "none holds"
	holdsShare    point = "share"
	bearsDoubt    point = "doubt"
	hasFamilies   point = "families"
	beatsRival    point = "rival"
	isWithheld    point = "withheld"
	growthUnknown point = "growth"
	tooMany       point = "too many"
	tooLittle     point = "too little"
	narrowedTo    point = "narrowed"
)

// check is one test on the way to the verdict, with the figures that it turned on.
type check struct {
	point  point
	ok     bool
	node   *kb.Material   // nil: of the whole case
	other  *kb.Material   // a rival, or what stands in the way
	others []*kb.Material // of growth: what is not ruled out
	rules  []*kb.Rule     // that keep a name back
	family []string       // that support the node
	by     string         // a piece of evidence
	value  float64
	needed float64
}

func (t *trace) add(c check) {
	if t != nil {
		t.checks = append(t.checks, c)
	}
}

// supports notes a family that supports a node.
func (t *trace) supports(family string, m *kb.Material) {
	if t != nil {
		t.supporting[m] = append(t.supporting[m], family)
	}
}

// failed lists what stood in the way of a name: of the deepest node that held enough, and each rival once, by its own
// name rather than its group's.
func (t *trace) failed() []check {
	var out []check
	var deepest *kb.Material
	for _, c := range t.checks {
		switch {
		case c.ok || c.point == consistent || c.point == notListed:
			continue
		case c.node != nil && deepest == nil:
			deepest = c.node
		}
		if c.node != nil && c.node != deepest {
			continue
		}
		if c.other == nil || !slices.ContainsFunc(t.checks, func(o check) bool {
			return !o.ok && o.node == c.node && o.other != nil && o.other != c.other && o.other.Under(c.other)
		}) {
			out = append(out, c)
		}
	}
	return out
}
