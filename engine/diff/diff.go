// Package diff tells in what two things of one kind differ: rulesets, sheet by sheet; cases, reading by reading;
// verdicts, by all that they tell; decisions, by what they name; and chains of reasoning, by the step at which they
// part. Whoever compares before and after (an edit, a draft, a replay, a case of last year) asks here, and says it in
// words of its own.
package diff

import (
	"slices"

	"whystone/engine"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/english"
)

// SameVerdict tells whether two decisions, of one ruleset or of two, are the same verdict: of one class, naming the
// same nodes, and telling alike whether the stone may be none of those that are listed.
func SameVerdict(a, b *engine.Decision) bool {
	return a.Class == b.Class && sameNode(a.Named, b.Named) && len(a.Nodes) == len(b.Nodes) &&
		(a.NotListed == engine.Listed) == (b.NotListed == engine.Listed) &&
		(len(a.KeptBack) == 0) == (len(b.KeptBack) == 0) &&
		!slices.ContainsFunc(a.Nodes, func(m *kb.Material) bool {
			return !slices.ContainsFunc(b.Nodes, func(n *kb.Material) bool { return sameNode(m, n) })
		})
}

func sameNode(a, b *kb.Material) bool {
	return a == b || a != nil && b != nil && a.ID == b.ID
}

// SameAnswer tells whether two decisions are the same verdict, and answer the claim alike.
func SameAnswer(a, b *engine.Decision) bool {
	return SameVerdict(a, b) && a.Claim.Answer == b.Claim.Answer
}

// SameAnswers tells whether two decisions are the same verdict, and answer the claim and its group alike.
func SameAnswers(a, b *engine.Decision) bool {
	return SameAnswer(a, b) && a.Claim.GroupAnswer == b.Claim.GroupAnswer
}

// Parting is the first step at which two chains say different things.
type Parting struct {
	Step int    `json:"step"` // from 1
	Was  string `json:"was"`  // empty where the chain has ended
	Is   string `json:"is"`
}

// Chains finds where two chains part; nil when they don't.
func Chains(was, is []engine.Step) *Parting {
	says := func(chain []engine.Step, i int) (s engine.Step) {
		if i < len(chain) {
			s = chain[i]
		}
		return s
	}
	for i := range max(len(was), len(is)) {
		if a, b := says(was, i), says(is, i); a.Kind != b.Kind || a.Says != b.Says {
			return &Parting{Step: i + 1, Was: a.Says, Is: b.Says}
		}
	}
	return nil
}

// Turn is the step with which two chains part: the first of the new chain, else of the old, that the other does not
// have anywhere. Nil when they don't part.
func Turn(was, is []engine.Step) *engine.Step {
	p := Chains(was, is)
	if p == nil {
		return nil
	}
	for _, side := range [][2][]engine.Step{{is, was}, {was, is}} {
		for i := p.Step - 1; i < len(side[0]); i++ {
			s := &side[0][i]
			if !slices.ContainsFunc(side[1], func(o engine.Step) bool { return o.Kind == s.Kind && o.Says == s.Says }) {
				return s
			}
		}
	}
	return nil
}

// Reading is an observable, or the claim, of which two versions of a case say different things; empty is nothing.
type Reading struct{ Name, Was, Is string }

// Cases lists in what two versions of a case differ: first the claim, then the readings by name.
func Cases(was, is *casefile.Case) []Reading {
	a, b := readings(was), readings(is)
	names := english.Each(slices.Concat(was.Readings, is.Readings), (*casefile.Reading).Name)
	slices.Sort(names)
	out := []Reading{{"claim", was.ClaimSays, is.ClaimSays}}
	for _, name := range slices.Compact(names) {
		out = append(out, Reading{name, a[name], b[name]})
	}
	return slices.DeleteFunc(out, func(r Reading) bool { return r.Was == r.Is })
}

func readings(c *casefile.Case) map[string]string {
	out := map[string]string{}
	for _, r := range c.Readings {
		out[r.Name()] = phrase.ReadingText(r)
	}
	return out
}
