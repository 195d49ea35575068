package separation

import (
	"math"
	"slices"
	"time"

	"whystone/engine/next/feasible"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/eval"
	"whystone/kb/vocab"
)

// reading is one that a test usually gives of a material, and the stone on which it is made.
type reading struct {
	*casefile.Reading
	stone casefile.Stone
}

// same is what makes two readings of one test and observable the same case. One that follows from the stone goes with
// its weight.
type same struct {
	form                casefile.Form
	value, high, lo, hi float64
	outcome             int
	seen                vocab.Set
}

func (r *reading) same() same {
	return same{form: r.Form, value: r.Value, high: r.High, lo: r.Lo, hi: r.Hi, outcome: r.Outcome, seen: r.Seen}
}

// bench is the clean loose round brilliant of one carat that every reading is made on.
func bench() casefile.Stone {
	no, one := false, 1.0
	return casefile.Stone{Mounted: &no, Warm: &no, Wet: &no, Coated: &no, Carat: &one, Cut: "round brilliant"}
}

// measured is a round brilliant of a weight, in the measurements that one of diamond has at about a carat.
func measured(carat float64) casefile.Stone {
	s := bench()
	wide, deep := 6.5, 3.95
	s.Carat, s.Length, s.Width, s.Depth = &carat, &wide, &wide, &deep
	return s
}

// testsAble is the tests that are harmless and can be done on the stone, and those of them that no rule forbids on it.
func testsAble(rs *kb.Ruleset, on time.Time) (able, allowed tests) {
	run := eval.New(rs)
	run.Do(&casefile.Case{Stone: measured(1)}, on)
	forbidders := rs.Forbidders()
	for i, t := range rs.Tests {
		if !t.Harmless() || !run.Needs(t).Feasible() {
			continue
		}
		able.Add(i)
		if !slices.ContainsFunc(forbidders[t.ID], run.Fired) {
			allowed.Add(i)
		}
	}
	return able, allowed
}

// points are the parts of a range at which a quantity is read, and most how many of them have to tell.
var points = [...]float64{0.1, 0.3, 0.5, 0.7, 0.9}

const most = 4

// usual lists what a test usually gives of a leaf by one observable. Of a quantity these are the values at all points,
// of which most have to tell; of the others each speaks by itself.
func usual(rs *kb.Ruleset, leaf *kb.Material, s *feasible.Source, fullTurn bool) []reading {
	o := s.Observable
	var out []reading
	add := func(r *casefile.Reading) { out = append(out, reading{Reading: r, stone: bench()}) }
	switch {
	case o.Kind != vocab.Quantity:
		for _, i := range reliable(o, frequencies(leaf, o)) {
			add(outcome(s, i))
		}
	case leaf.Ranges[o.Property] == nil:
	case fullTurn && o.Name == vocab.Birefringence && leaf.Ranges[vocab.RefractiveIndex] != nil: // comes with the rays
	default:
		low, high := usually(leaf.Ranges[o.Property])
		for _, p := range points {
			switch {
			case fullTurn && o.Name == vocab.RefractiveIndex:
				add(rays(s, leaf, low, high, p))
			default:
				out = append(out, value(rs, s, low+p*(high-low)))
			}
		}
	}
	return out
}

// outcome is a choice that is read, or a feature that is seen.
func outcome(s *feasible.Source, i int) *casefile.Reading {
	if s.Observable.Kind == vocab.Choice {
		return s.Choice(i)
	}
	return s.Feature(i, true)
}

// frequencies is what a sheet says of the outcomes of an observable, or nil.
func frequencies(leaf *kb.Material, o *vocab.Observable) *kb.Frequencies {
	if o.Kind == vocab.Choice {
		return leaf.Choices[o.Name]
	}
	return leaf.Features[o.Name]
}

// reliable lists the outcomes that a sheet has as "usually" or "always".
func reliable(o *vocab.Observable, f *kb.Frequencies) []int {
	if f == nil {
		return nil
	}
	var out []int
	for i := range o.Outcomes {
		if w := f.Words[o.Outcomes[i].Name]; w == kb.Always || w == kb.Usually {
			out = append(out, i)
		}
	}
	return out
}

// usually is where most stones of a material lie.
func usually(r *kb.Range) (low, high float64) {
	if r.Typical != nil {
		return r.Typical[0], r.Typical[1]
	}
	return r.Low, r.High
}

// rays are the shadow edges of a full turn at a part of a range, so far apart as the sheet says. Where a ray lies
// beyond the scale, or the sheet does not say how far they lie apart, it is the low one.
func rays(s *feasible.Source, leaf *kb.Material, low, high, p float64) *casefile.Reading {
	d := leaf.Ranges[vocab.Birefringence]
	if d == nil {
		return s.Value(low + p*(high-low))
	}
	apart := math.Min((d.Low+d.High)/2, high-low)
	first := low + p*(high-low-apart)
	if first < s.Limits[0] || first+apart > s.Limits[1] {
		return s.Value(first)
	}
	return s.Rays(first, first+apart)
}

// value is a quantity as it is read, or as it follows from a stone that has it.
func value(rs *kb.Ruleset, s *feasible.Source, x float64) reading {
	if r, ok := derived(rs, s, x); ok {
		return r
	}
	return reading{Reading: s.Value(x), stone: bench()}
}

// derived is a quantity that the test's sheet computes from the stone, on one whose weight makes it come out at x. The
// weight is found by proportion; what is not proportional to weight is read as if somebody gave it.
func derived(rs *kb.Ruleset, s *feasible.Source, x float64) (reading, bool) {
	if len(s.Test.Derived) == 0 {
		return reading{}, false
	}
	of := func(carat float64) (r reading, ok bool) {
		r.stone = measured(carat)
		r.Reading = feasible.Derived(rs, r.stone, func(d *casefile.Reading) bool {
			return d.Observable == s.Observable && d.Tests[0] == s.Test.ID
		})
		return r, r.Reading != nil
	}
	one, ok := of(1)
	if !ok || one.Value == 0 {
		return reading{}, false
	}
	r, ok := of(x / one.Value)
	return r, ok && math.Abs(r.Value-x) <= 1e-6*math.Abs(x)
}
