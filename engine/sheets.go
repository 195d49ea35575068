package engine

import (
	"math"
	"slices"

	"whystone/kb"
	"whystone/kb/vocab"
)

// line is what the material sheets say of one observable, by leaf.
type line struct {
	observable *vocab.Observable
	family     int
	key        int
	rank       int         // of its name
	ranges     []*kb.Range // of a quantity; nil: nothing said
	reach      []extent    // of a quantity: the same, as far as exclusion asks, those alike together
	like       []int       // of a quantity, by leaf: the first leaf whose sheet says the same as its own
	untold     leafSet     // of a quantity: the leaves whose sheets say nothing
	none       bool        // of a quantity: no sheet says anything
	relations  []relating  // of a quantity: what it goes by
	shares     [][]float64 // of a choice, by outcome: the probability under each leaf; NaN: nothing said
	fixed      [][]float64 // of a choice, by outcome: contributions at the declaring test's blunder rate
	blunder    []float64   // of a choice, by outcome: that rate
	never      []leafSet   // of a choice by outcome, of features by feature: where it can't be
	features   [][]float64 // of features, by feature: the probability under each leaf; NaN: nothing said
	silent     []bool      // by outcome: no sheet says anything of it
	tests      testSet     // the test that declares the observable
	keys       []int       // of features, by feature
	labels     []string    // of features, by feature: "inclusions: gas bubbles"
	ranks      []int       // of features, by feature: of the label
	// Of features, by feature and strength: how likely one that is seen is so strong, under each leaf; NaN: nothing
	// said; nil: no sheet says anything.
	strengths [][][]float64
}

// extent is what exclusion asks of a range, and of which leaves it is the range.
type extent struct {
	low, high, tolerance float64
	leaves               leafSet
}

func (e *Engine) prepareLine(o *vocab.Observable) line {
	test := e.tests[o.Test]
	l := line{observable: o, family: e.family(o.Family),
		key: e.key([]kb.Atom{{Observable: o, Feature: -1}})}
	l.tests.Add(test)
	switch o.Kind {
	case vocab.Quantity:
		l.ranges, l.untold, l.none = make([]*kb.Range, e.leaves), e.newSet(), true
		for i, m := range e.Ruleset.Leaves {
			l.ranges[i] = m.Ranges[o.Property]
			if r := l.ranges[i]; r != nil {
				l.reaches(e, r, i)
				l.none = false
				continue
			}
			l.untold.add(i)
		}
		e.prepareLike(&l)
		e.prepareRelations(&l)
	case vocab.Choice:
		e.prepareChoice(&l)
	case vocab.Features:
		e.prepareFeatures(&l)
	}
	return l
}

// reaches notes how far a leaf's range reaches.
func (l *line) reaches(e *Engine, r *kb.Range, leaf int) {
	n := slices.IndexFunc(l.reach, func(x extent) bool {
		return x.low == r.Low && x.high == r.High && x.tolerance == r.Tolerance
	})
	if n < 0 {
		n = len(l.reach)
		l.reach = append(l.reach, extent{low: r.Low, high: r.High, tolerance: r.Tolerance, leaves: e.newSet()})
	}
	l.reach[n].leaves.add(leaf)
}

// prepareLike finds the leaves whose sheets say the same of a quantity, as those of one species do: what a reading says
// of them is worked out once. Of two rays that goes by the smallest birefringence too.
func (e *Engine) prepareLike(l *line) {
	type says struct {
		low, high, birefringence float64
		typical                  [2]float64
		given                    bool
	}
	firsts := map[says]int{}
	for i, r := range l.ranges {
		if l.like = append(l.like, i); r == nil {
			continue
		}
		is := says{low: r.Low, high: r.High, birefringence: e.smallestBirefringence(i), given: r.Typical != nil}
		if is.given {
			is.typical = *r.Typical
		}
		if first, ok := firsts[is]; ok {
			l.like[i] = first
		} else {
			firsts[is] = i
		}
	}
}

// prepareChoice turns frequency words into probabilities: choices that a sheet doesn't mention share what is left, at
// least 0.03, and all are divided by their sum.
func (e *Engine) prepareChoice(l *line) {
	o := l.observable
	yield := e.Ruleset.Vocabulary.Yield(o.Test, o)
	plain := make([][]float64, len(o.Outcomes))
	for j := range plain {
		plain[j] = make([]float64, e.leaves)
	}
	for i, m := range e.Ruleset.Leaves {
		if f := m.Choices[o.Name]; f != nil {
			for j, p := range called(o, e.choiceShares(o.Outcomes, f.Words), f.Words) {
				plain[j][i] = p
			}
		} else {
			for j := range plain {
				plain[j][i] = math.NaN()
			}
		}
	}
	for j := range o.Outcomes {
		meaning := o.Meaning(j)
		rate := yield.BlunderOf(j)
		share, fixed, never := make([]float64, e.leaves), e.numbers(), e.newSet()
		for i := range e.leaves {
			for k := range o.Outcomes {
				if meaning>>k&1 == 1 {
					share[i] += plain[k][i]
				}
			}
			if share[i] == 0 {
				never.add(i)
			}
			if !math.IsNaN(share[i]) {
				fixed[i] = contribution(share[i], e.anyChoice(o, meaning), rate)
			}
		}
		l.shares, l.fixed, l.never = append(l.shares, share), append(l.fixed, fixed), append(l.never, never)
		l.blunder = append(l.blunder, rate)
		l.silent = append(l.silent, !slices.ContainsFunc(share, given))
	}
}

// given tells whether a sheet says how likely something is.
func given(p float64) bool { return !math.IsNaN(p) }

// anyChoice is how likely a choice is on any stone: alike for all that cover no others.
func (e *Engine) anyChoice(o *vocab.Observable, meaning uint64) float64 {
	n := 0
	for k := range o.Outcomes {
		if meaning>>k&1 == 1 {
			n++
		}
	}
	return float64(n) / float64(o.Plain)
}

// choiceShares is how likely each choice is by a sheet's words; 0 for those that cover others.
func (e *Engine) choiceShares(choices []vocab.Outcome, words map[string]kb.Frequency) []float64 {
	mentioned, others := 0.0, 0
	for j := range choices {
		if choices[j].Covers != 0 {
			continue
		}
		if w, ok := words[choices[j].Name]; ok {
			mentioned += e.Ruleset.Policy.Frequency[w]
		} else {
			others++
		}
	}
	left, total := 0.0, mentioned
	if others > 0 {
		left = math.Max(1-mentioned, 0.03)
		total += left
	}
	out := make([]float64, len(choices))
	for j := range choices {
		if choices[j].Covers != 0 {
			continue
		}
		if w, ok := words[choices[j].Name]; ok {
			out[j] = e.Ruleset.Policy.Frequency[w] / total
		} else {
			out[j] = left / float64(others) / total
		}
	}
	return out
}

func (e *Engine) prepareFeatures(l *line) {
	o := l.observable
	for j := range o.Outcomes {
		l.features, l.never = append(l.features, make([]float64, e.leaves)), append(l.never, e.newSet())
		l.keys = append(l.keys, e.key([]kb.Atom{{Observable: o, Feature: j}}))
		l.labels = append(l.labels, kb.Atom{Observable: o, Feature: j}.String())
	}
	said := make([]float64, len(o.Outcomes))
	for i, m := range e.Ruleset.Leaves {
		for j := range said {
			said[j] = math.NaN()
			if f := m.Features[o.Name]; f != nil {
				if w, ok := f.Words[o.Outcomes[j].Name]; ok {
					said[j] = e.Ruleset.Policy.Frequency[w]
				}
			}
		}
		for j, p := range calledFeatures(o, said) {
			l.features[j][i] = p
			if f := m.Features[o.Name]; p == 0 && f != nil && f.Words[o.Outcomes[j].Name] == kb.Never {
				l.never[j].add(i)
			}
		}
	}
	for j := range o.Outcomes {
		l.silent = append(l.silent, !slices.ContainsFunc(l.features[j], given))
	}
	e.prepareStrengths(l)
}
