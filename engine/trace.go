package engine

import (
	"math"
	"slices"

	"whystone/engine/phrase"
	"whystone/kb"
)

// trace observes the evaluator while it decides. A nil trace costs nothing: its methods do nothing, and what would
// have to be computed for it is behind a test for nil.
type trace struct {
	checks     []check
	supporting map[*kb.Material][]string
}

func newTrace() *trace { return &trace{supporting: map[*kb.Material][]string{}} }

// check is one test on the way to the verdict, as it came out. Those of a node are asked of every nameable node that
// holds the required share, deepest first.
type check struct {
	ok bool
	phrase.Reason
}

// asks is what a check asks, by how it came out.
var asks = map[phrase.Code]string{
	phrase.AllExcluded: "all excluded", phrase.MistakenReading: "mistaken reading", phrase.OffList: "not listed",
	phrase.PerhapsOffList: "not listed", phrase.Consistent: "consistent", phrase.NoneHolds: "none holds",
	phrase.TwoHold: "none holds", phrase.ShareHeld: "share", phrase.DoubtBorne: "doubt",
	phrase.DoubtTooLarge: "doubt", phrase.Supported: "families", phrase.NoSupport: "families",
	phrase.OneFamily: "families", phrase.OneTest: "families", phrase.RivalAhead: "rival",
	phrase.RivalAlike: "rival", phrase.RivalBehind: "rival", phrase.Withheld: "withheld",
	phrase.WithheldAll: "withheld", phrase.GrowthUnknown: "growth", phrase.GrowthOpen: "growth",
	phrase.TooMany: "too many", phrase.TooLittle: "too little", phrase.NarrowEnough: "narrowed",
}

func (t *trace) add(ok bool, r phrase.Reason) {
	if t != nil {
		t.checks = append(t.checks, check{ok, r})
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
func (t *trace) failed() []phrase.Reason {
	var out []phrase.Reason
	var deepest *kb.Material
	for _, c := range t.checks {
		switch {
		case c.ok || c.Code == phrase.PerhapsOffList:
			continue
		case c.Node != nil && deepest == nil:
			deepest = c.Node
		}
		if c.Node != nil && c.Node != deepest {
			continue
		}
		if c.Other == nil || !slices.ContainsFunc(t.checks, func(o check) bool {
			return !o.ok && o.Node == c.Node && o.Other != nil && o.Other != c.Other && o.Other.Under(c.Other)
		}) {
			out = append(out, c.Reason)
		}
	}
	return out
}

// Asked looks at what a nameable node of the case that was decided last needs for its name besides its share: what it
// has, and what it lacks.
func (j *Judge) Asked(d *Decision, m *kb.Material) (has, lacks []phrase.Reason) {
	old := j.trace
	j.trace = newTrace()
	defer func() { j.trace = old }()
	j.shares()
	j.nameable(d, j.e.names[m], m)
	for _, c := range j.trace.checks {
		if c.ok {
			has = append(has, c.Reason)
		}
	}
	return has, j.trace.failed()
}

// ofRival is how far a node is ahead of a rival by the readings alone.
func ofRival(m, rival *kb.Material, gap, needed float64) phrase.Reason {
	r := phrase.Reason{Code: phrase.RivalBehind, Node: m, Other: rival, Ratio: math.Exp(gap), Needed: needed}
	if gap < 0 {
		r.Code = phrase.RivalAhead
	} else if gap < 0.05 {
		r.Code = phrase.RivalAlike
	}
	return r
}

// keptBack is a name that rules keep back, with what may lift that; of all names where the node is nil.
func (j *Judge) keptBack(m *kb.Material, by []*kb.Rule) phrase.Reason {
	r := phrase.Reason{Code: phrase.Withheld, Node: m, Rules: by, Then: j.Lift(by)}
	if m == nil {
		r.Code = phrase.WithheldAll
	}
	for _, o := range j.e.lifts(by) {
		r.Observables = append(r.Observables, o.Name)
	}
	return r
}
