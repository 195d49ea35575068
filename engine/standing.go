package engine

import (
	"math"

	"whystone/kb"
)

// Standing is how far a nameable node is from being named.
type Standing struct {
	Share     float64
	Doubt     float64
	Families  []string       // those that support it
	Supported bool           // by two of them at least, resting on two tests
	Rivals    []Rival        // those that are not far enough behind, by id
	Withheld  []*kb.Rule     // that keep its name back
	Unsettled []*kb.Material // leaves of another origin that are not ruled out far enough
	// GrownUnknown: no sheet of its species lists the grown ones, and it is of natural origin.
	GrownUnknown bool
	Required     float64
	DoubtLimit   float64
}

// Rival is a node that stands in another's way.
type Rival struct {
	Node *kb.Material
	Gap  float64 // log-likelihood by which it is behind, negative when it is ahead
}

// Standing looks at a nameable node of the case that was decided last; d is its decision.
func (j *Judge) Standing(d *Decision, m *kb.Material) Standing {
	s := Standing{Share: j.Share(m), Doubt: d.Doubt, Required: d.Required, DoubtLimit: d.DoubtLimit, Withheld: j.withheldBy(m)}
	n := j.e.names[m]
	s.Unsettled, s.GrownUnknown = j.unsettled(n), j.e.origins[n] == kb.Natural && belowUnlistedGrowth(m)
	j.shares()
	old := j.trace
	j.trace = &trace{supporting: map[*kb.Material][]string{}}
	s.Supported = j.supported(m)
	s.Families = j.trace.supporting[m]
	j.trace = old
	for o, r := range j.e.nodes {
		if r == m || !j.rivals(d, o, m, m.NameableAbove()) {
			continue
		}
		if gap := j.nodeLikelihood(m) - j.nodeLikelihood(r); gap < math.Log(j.e.Ruleset.Policy.Rival) {
			s.Rivals = append(s.Rivals, Rival{Node: r, Gap: gap})
		}
	}
	return s
}
