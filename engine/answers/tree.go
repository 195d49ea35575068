package answers

import (
	"slices"

	"whystone/engine"
	"whystone/kb/english"
)

// Branch is a step of the short chain with what it rests on. Step is its number in the whole chain, 0 where it sums up.
type Branch struct {
	Step int         `json:"step"`
	Kind engine.Kind `json:"kind"`
	Says string      `json:"says"`
	Kids []Branch    `json:"kids"`
}

// The kinds of branches that sum up.
const (
	because       engine.Kind = "because"
	SpeaksFor     engine.Kind = "for"
	SpeaksAgainst engine.Kind = "against"
)

// tree hangs the reasons under the verdict, and under each the steps of the whole chain that it comes from.
func tree(s *Short, ex *engine.Explained) Branch {
	root := Branch{Kind: engine.VerdictStep, Says: s.Says, Kids: []Branch{}}
	for _, st := range ex.Chain {
		if st.Kind == engine.VerdictStep {
			root.Step = st.Step
		}
	}
	told := map[int]bool{}
	why := func(says string) Branch { return Branch{Kind: because, Says: says, Kids: []Branch{}} }
	claim := func(st engine.Step) (Branch, bool) { return leaf(st), st.Kind == engine.ClaimStep }
	root.Kids = append(root.Kids, slices.Concat(english.Each(s.Because, why), branches(SpeaksFor, s.For, ex, told),
		branches(SpeaksAgainst, s.Against, ex, told), english.Only(ex.Chain, claim))...)
	return root
}

// leaf is a step with nothing below it.
func leaf(st engine.Step) Branch {
	return Branch{Step: st.Step, Kind: st.Kind, Says: st.Says, Kids: []Branch{}}
}

// branches are readings with the steps that rest on them. A step that rests on several stands under the first of them
// alone.
func branches(kind engine.Kind, list []Reason, ex *engine.Explained, told map[int]bool) []Branch {
	return english.Each(list, func(x Reason) Branch {
		b := Branch{Kind: kind, Says: x.Says, Kids: []Branch{}}
		for _, n := range stepsOf(ex, x.Reading.Name) {
			if st := ex.Chain[n-1]; !told[n] {
				told[n] = true
				b.Kids = append(b.Kids, leaf(st))
			}
		}
		return b
	})
}

// stepsOf lists the steps of a chain that a reading is, and those of rules and evidence that rest on it, exclusions
// aside.
func stepsOf(ex *engine.Explained, name string) []int {
	var out []int
	from := map[int]bool{}
	for _, st := range ex.Chain {
		switch st.Kind {
		case engine.ReadingStep, engine.UnclearStep:
			from[st.Step] = st.Observable == name
		case engine.RuleStep, engine.SetAsideStep, engine.EvidenceStep:
			from[st.Step] = slices.ContainsFunc(st.Inputs, func(n int) bool { return from[n] })
		}
		if from[st.Step] {
			out = append(out, st.Step)
		}
	}
	return out
}
