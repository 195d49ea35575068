package terminal

import (
	"math"
	"slices"

	"whystone/engine"
	"whystone/engine/phrase"
	"whystone/kb/casefile"
)

// evidence is a step of the chain that weighed materials, with what it did.
type evidence struct {
	step     *engine.Step
	out      int // materials that it excludes
	leans    map[string]float64
	readings []int // steps of the readings that it rests on
}

// worthTelling makes a piece of evidence worth telling: it excludes, or makes some open material 1.5 times more or less
// likely.
const worthTelling = 0.405

// evidences gathers the evidence of a chain, in its order.
func (t Told) evidences() []*evidence {
	byStep := map[int]*evidence{}
	var all []*evidence
	for i := range t.Chain {
		s := &t.Chain[i]
		switch s.Kind {
		case engine.EvidenceStep:
			e := &evidence{step: s, leans: map[string]float64{}, readings: t.readingsOf(s.Inputs)}
			for _, w := range s.Weights {
				e.leans[w.Material] = w.Counts
				// a candidate is told by its group's id
				if m := phrase.NodeOf(t.Ruleset, w.Material); m != nil && m.Other {
					e.leans[engine.Told(m).ID] = w.Counts
				}
			}
			byStep[s.Step] = e
			all = append(all, e)
		case engine.ExclusionStep:
			for _, n := range s.Inputs {
				if e := byStep[n]; e != nil {
					e.out++
				}
			}
		}
	}
	return all
}

// readingsOf follows steps down to the readings that they rest on.
func (t Told) readingsOf(steps []int) []int {
	var out []int
	seen := map[int]bool{}
	var visit func(n int)
	visit = func(n int) {
		if n < 1 || n > len(t.Chain) || seen[n] {
			return
		}
		seen[n] = true
		s := &t.Chain[n-1]
		if s.Kind == engine.ReadingStep || s.Kind == engine.UnclearStep {
			out = append(out, n)
		}
		for _, i := range s.Inputs {
			visit(i)
		}
	}
	for _, n := range steps {
		visit(n)
	}
	slices.Sort(out)
	return out
}

// leaders are the open materials that the verdict is about: the likeliest of the named node, the likeliest of each node
// that the stone is narrowed to, else the first few candidates.
func (t Told) leaders() []string {
	var out []string
	nodes := t.Nodes
	if t.Named != nil {
		nodes = []string{*t.Named}
	}
	for _, id := range nodes {
		node := t.Ruleset.Node(id)
		for _, c := range t.Candidates {
			if m := t.Ruleset.Node(c.Material); m != nil && node != nil && m.Under(node) {
				out = append(out, c.Material)
				break
			}
		}
	}
	if len(nodes) == 0 {
		for _, c := range t.Candidates {
			if len(out) < 3 && t.Ruleset.Node(c.Material) != nil {
				out = append(out, c.Material)
			}
		}
	}
	return out
}

// tells is whether evidence is worth telling for the leaders.
func (e *evidence) tells(leaders []string) bool {
	leans := func(m string) bool { return math.Abs(e.leans[m]) >= worthTelling }
	return e.out > 0 || slices.ContainsFunc(leaders, leans)
}

// readingText says what was read at a step: "thermal probe: diamond range".
func (t Told) readingText(step int) string {
	s := t.Chain[step-1]
	for _, r := range t.Case.Readings {
		if r.Name() == s.Observable {
			return phrase.Readings([]*casefile.Reading{r})
		}
	}
	return s.Says
}
