package separation

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"whystone/engine/next/feasible"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/english"
	"whystone/kb/vocab"
)

// sign is an outcome of an observable that is not all or nothing for some leaf, and what the engine makes of it.
type sign struct {
	observable *vocab.Observable
	outcome    string
	seen       []kb.Frequency // by leaf: the frequency word, where it is neither reliable nor never; else ""
	logs       []float64      // by leaf: the log-likelihood, as of scan.judge
}

// signs judges the outcomes of one observable that some sheet has sometimes.
func (s *scan) signs(from *feasible.Source) []sign {
	o := from.Observable
	if o.Kind == vocab.Quantity {
		return nil
	}
	var out []sign
	for i := range o.Outcomes {
		seen, sometimes := make([]kb.Frequency, len(s.rs.Leaves)), false
		for _, leaf := range s.rs.Leaves {
			if f := frequencies(leaf, o); f != nil {
				if w := f.Words[o.Outcomes[i].Name]; w == kb.Often || w == kb.Sometimes || w == kb.Rarely {
					seen[leaf.Index], sometimes = w, true
				}
			}
		}
		if sometimes {
			r := reading{Reading: outcome(from, i), stone: bench()}
			out = append(out, sign{observable: o, outcome: o.Outcomes[i].Name, seen: seen, logs: s.judge(&r)})
		}
	}
	return out
}

// least is the least logarithm of a ratio that parts two leaves. Ratios are kept to seven figures; one that is the
// policy's to the last of them is not to be lost by rounding.
func (t *Table) least() float64 { return max(math.Log(t.rs.Policy.Rival), telling) * (1 - 1e-6) }

// signsOf lists what parts some leaves sometimes: for each test of the house and each outcome or feature that the
// sheet of one of them has as "often", "sometimes" or "rarely", which of the others it excludes, or under which it is
// so much less likely as the policy asks of a rival. By test, observable, outcome and leaf, each by id or name.
func (t *Table) signsOf(leaves []*kb.Material, house []int) []Seen {
	leaves = slices.SortedFunc(slices.Values(leaves), func(a, b *kb.Material) int { return a.Index - b.Index })
	var out []Seen
	for _, i := range house {
		for _, s := range t.signs[i] {
			for _, of := range leaves {
				if from := s.from(of, leaves, t.least()); from != nil {
					out = append(out, Seen{Test: t.rs.Tests[i].ID, Observable: s.observable.Name, Outcome: s.outcome,
						Seen: s.seen[of.Index], Of: of.ID, From: ids(from)})
				}
			}
		}
	}
	return out
}

// from lists the leaves that the sign tells a leaf from.
func (s *sign) from(of *kb.Material, leaves []*kb.Material, least float64) []*kb.Material {
	if s.seen[of.Index] == "" {
		return nil
	}
	return english.Only(leaves, func(m *kb.Material) (*kb.Material, bool) {
		return m, m != of && ratio(s.logs[of.Index], s.logs[m.Index]) >= least
	})
}

// shownSigns is how many outcomes of one test are named for a leaf in a sentence; all of them are in the report.
const shownSigns = 4

// Phrases tells signs in words, a phrase for each test: its name, and in brackets for each material what tells it.
func Phrases(rs *kb.Ruleset, signs []Seen) []string {
	var out []string
	tests, byTest := english.Grouped(signs, func(s Seen) string { return s.Test })
	for _, test := range tests {
		leaves, byLeaf := english.Grouped(byTest[test], func(s Seen) string { return s.Of })
		slices.Sort(leaves)
		told := english.Each(leaves, func(id string) string {
			return phrase.Node(phrase.NodeOf(rs, id), 0) + ": " + outcomes(rs, byLeaf[id])
		})
		out = append(out, rs.Test(test).Name+" ("+strings.Join(told, "; ")+")")
	}
	return out
}

// outcomes names features as they are, and a choice with what it is the choice of where the test gives several things.
func outcomes(rs *kb.Ruleset, signs []Seen) string {
	var words []string
	for _, s := range signs {
		if rs.Vocabulary.Observable(s.Observable).Kind == vocab.Choice && len(rs.Test(s.Test).Yields) > 1 {
			words = append(words, phrase.InWords(s.Observable)+" "+s.Outcome)
		} else {
			words = append(words, s.Outcome)
		}
	}
	if more := len(words) - shownSigns; more > 1 {
		words = append(words[:shownSigns], fmt.Sprintf("%d more", more))
	}
	return strings.Join(words, ", ")
}
