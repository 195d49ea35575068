// Package possible is what could be read of a stone: the readings that a test of the house can give, the one that a
// material's sheet leads to expect, and what becomes of a reading that is repeated.
package possible

import (
	"math"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/vocab"
)

// Source is a test as the giver of one observable, with the house's own instrument where it has just one for the test.
type Source struct {
	Test       *kb.Test
	Observable *vocab.Observable
	Instrument string
	U          float64    // standard uncertainty of a quantity, in its unit
	Limits     [2]float64 // what can be read of a quantity at all
	yield      *vocab.Yield
	blunder    float64 // of the house's instrument; 0: the test's
}

// Sources lists what a test gives, by observable.
func Sources(rs *kb.Ruleset, t *kb.Test) []*Source {
	var out []*Source
	for _, y := range t.Yields {
		s := &Source{Test: t, Observable: y.Observable, U: y.Uncertainty, Limits: y.Limits, yield: y}
		if in := rs.Vocabulary.HouseInstrument(t.ID); in != nil {
			s.Instrument = in.ID
			s.made(in)
		}
		if y.Observable.Kind == vocab.Quantity {
			s.Limits = [2]float64{max(s.Limits[0], y.Observable.Span[0]), min(s.Limits[1], y.Observable.Span[1])}
		}
		out = append(out, s)
	}
	return out
}

// made takes over the figures of the house's instrument, where they are of this observable.
func (s *Source) made(in *vocab.Instrument) {
	if in.Observable != "" && in.Observable != s.Observable.Name {
		return
	}
	s.blunder = in.Blunder
	if in.Uncertainty > 0 {
		s.U = in.Uncertainty
	}
	if in.Limits != nil {
		s.Limits = *in.Limits
	}
}

func (s *Source) reading(form casefile.Form, outcome int) *casefile.Reading {
	r := &casefile.Reading{Observable: s.Observable, Form: form, Outcome: outcome, Tests: []string{s.Test.ID}, Instrument: s.Instrument,
		Blunder: s.yield.BlunderOf(outcome), U: s.U, HighU: s.U, Noise: s.U, Repeats: 1}
	if s.blunder > 0 {
		r.Blunder = s.blunder
	}
	return r
}

// Choice is the reading of a choice by its index.
func (s *Source) Choice(i int) *casefile.Reading { return s.reading(casefile.Choice, i) }

// Feature is the reading of one feature that was looked for.
func (s *Source) Feature(i int, seen bool) *casefile.Reading {
	r := s.reading(casefile.Features, -1)
	r.LookedFor.Add(i)
	if seen {
		r.Seen.Add(i)
	}
	return r
}

// Value is the reading of a quantity, or of the bound that a test gives where the value lies beyond what it can read.
func (s *Source) Value(x float64) *casefile.Reading {
	switch {
	case x > s.Limits[1]:
		return s.Above()
	case x < s.Limits[0]:
		return s.Below()
	}
	r := s.reading(casefile.Value, -1)
	r.Value = x
	return r
}

// Above is the reading of a quantity that lies above all that the test can read.
func (s *Source) Above() *casefile.Reading {
	r := s.reading(casefile.Interval, -1)
	r.Lo, r.Hi = math.Nextafter(s.Limits[1], math.Inf(1)), math.Inf(1)
	return r
}

// Below is the reading of a quantity that lies below all that the test can read.
func (s *Source) Below() *casefile.Reading {
	r := s.reading(casefile.Interval, -1)
	r.Lo, r.Hi = math.Inf(-1), math.Nextafter(s.Limits[0], math.Inf(-1))
	return r
}

// Rays is the reading of a full turn: the low and the high ray.
func (s *Source) Rays(low, high float64) *casefile.Reading {
	if high > s.Limits[1] || low < s.Limits[0] {
		return s.Value(high)
	}
	r := s.reading(casefile.Pair, -1)
	r.Value, r.High = low, high
	return r
}

// Unclear is a test that was tried and stayed inconclusive.
func (s *Source) Unclear(reason string) *casefile.Reading {
	r := s.reading(casefile.Inconclusive, -1)
	r.Reason = reason
	return r
}
