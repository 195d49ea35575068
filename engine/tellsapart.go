package engine

import (
	"cmp"
	"math"
	"slices"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/vocab"
)

const (
	// clearly is how much of what two stones show may be alike for a test to tell them apart at a look.
	clearly = 0.25
	// mostTests is how many tests a verdict names for that.
	mostTests = 3
)

// tellsApart lists the tests that would tell two nodes apart on this stone by what the sheets of their likeliest leaves
// say, the clearest first: harmless ones that the stone allows and that were not made.
func (j *Judge) tellsApart(c *casefile.Case, a, b *kb.Material) []*kb.Test {
	one, other := j.LikeliestLeaf(a), j.LikeliestLeaf(b)
	if one == Unlisted || other == Unlisted {
		return nil
	}
	type ranked struct {
		test  *kb.Test
		alike float64
	}
	var tests []ranked
	for _, t := range j.e.Ruleset.Tests {
		if !t.Harmless() || !j.Wants(c, t.ID) || ended(c, t) {
			continue
		}
		alike := 1.0
		for _, y := range t.Yields {
			if !c.Has(y.Observable) {
				alike = math.Min(alike, j.alikeOn(y, one, other))
			}
		}
		if alike < clearly {
			tests = append(tests, ranked{t, alike})
		}
	}
	slices.SortFunc(tests, func(x, y ranked) int {
		return cmp.Or(cmp.Compare(x.alike, y.alike), cmp.Compare(x.test.Minutes, y.test.Minutes),
			cmp.Compare(x.test.ID, y.test.ID))
	})
	var out []*kb.Test
	for _, r := range tests[:min(len(tests), mostTests)] {
		out = append(out, r.test)
	}
	return out
}

// ended tells whether a test was done and showed nothing as far as its scale goes: it has nothing else to give then.
func ended(c *casefile.Case, t *kb.Test) bool {
	return slices.ContainsFunc(c.Readings, func(r *casefile.Reading) bool {
		return r.Form == casefile.Interval && slices.Contains(r.Tests, t.ID)
	})
}

// alikeOn is how much two leaves have in common in one observable, from 0 (never alike) to 1, as far as the sheets say:
// the part of outcomes that both show; for ranges 0 where a reading of the one can't be one of the other.
func (j *Judge) alikeOn(y *vocab.Yield, one, other int) float64 {
	l := &j.e.lines[y.Observable.Index]
	switch y.Observable.Kind {
	case vocab.Quantity:
		a, b := l.ranges[one], l.ranges[other]
		if a != nil && b != nil && math.Max(a.Low, b.Low)-math.Min(a.High,
			b.High) > j.e.Ruleset.Policy.Misfit*y.Uncertainty {
			return 0
		}
	case vocab.Choice:
		sum := 0.0
		for k := range l.shares {
			if p, q := l.shares[k][one], l.shares[k][other]; y.Observable.Outcomes[k].Covers == 0 {
				if !given(p) || !given(q) {
					return 1
				}
				sum += math.Min(p, q)
			}
		}
		return sum
	case vocab.Features:
		alike := 1.0
		for k := range l.features {
			if p, q := l.features[k][one], l.features[k][other]; given(p) && given(q) {
				alike = math.Min(alike, 1-math.Abs(p-q))
			}
		}
		return alike
	}
	return 1
}
