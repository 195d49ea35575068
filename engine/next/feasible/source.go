// Package feasible is what could be read of a stone: the readings that a test of the house can give, the one that a
// material's sheet leads to expect, and what becomes of a reading that is repeated.
package feasible

import (
	"math"
	"slices"
	"sync"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/eval"
	"whystone/kb/vocab"
)

// Source is a test as the giver of one observable on one stone, with the house's own instrument where it has just one
// for the test.
type Source struct {
	Test       *kb.Test
	Observable *vocab.Observable
	Instrument string
	Limits     [2]float64 // what can be read of a quantity at all
	tests      []string
	yield      *vocab.Yield
	blunder    float64 // of the house's instrument; 0: the test's
	// uncertainty is the standard uncertainty of a value, where it depends on that; else it is plain.
	uncertainty func(value float64) float64
	plain       float64
	computed    bool // it follows from measurements of the stone
}

// U is the standard uncertainty of a value of a quantity, in its unit: that of the house's instrument or of the test,
// or what follows from the stone.
func (s *Source) U(value float64) float64 {
	if s.uncertainty != nil {
		if u := s.uncertainty(value); u > 0 {
			return u
		}
	}
	return s.plain
}

// Remember makes U remember what it was asked for last, as some values are asked for again and again, by several at a
// time.
func (s *Source) Remember() {
	f := s.uncertainty
	if f == nil {
		return
	}
	const bits = 9
	type asked struct {
		value, u float64
		known    bool
	}
	var room sync.Mutex
	known := make([]asked, 1<<bits)
	s.uncertainty = func(value float64) float64 {
		at := &known[math.Float64bits(value)*0x9e3779b97f4a7c15>>(64-bits)]
		room.Lock()
		was := *at
		room.Unlock()
		if was.known && was.value == value {
			return was.u
		}
		u := f(value)
		room.Lock()
		*at = asked{value, u, true}
		room.Unlock()
		return u
	}
}

// Apart is s, which gives the double refraction, as read by how far apart the two rays lie that index reads: from so
// many of its uncertainties below zero, where a material with one ray can come out.
func (s *Source) Apart(index *Source, below float64) *Source {
	out := *s
	out.uncertainty, out.plain = nil, math.Hypot(index.U(index.Limits[0]), index.U(index.Limits[0]))
	out.Limits = [2]float64{-below * out.plain, math.Min(s.Observable.Span[1], index.Limits[1]-index.Limits[0])}
	return &out
}

// Sources lists what a test gives on the stone of a case, by observable.
func Sources(rs *kb.Ruleset, c *casefile.Case, t *kb.Test) []*Source {
	var out []*Source
	for _, y := range t.Yields {
		s := &Source{Test: t, Observable: y.Observable, plain: y.Uncertainty, Limits: y.Limits, yield: y,
			tests: []string{t.ID}}
		in := rs.Vocabulary.HouseInstrument(t.ID)
		if in != nil {
			s.Instrument = in.ID
		}
		if in != nil && in.Observable != "" && in.Observable != s.Observable.Name {
			in = nil // its figures are of something else
		}
		if y.Observable.Kind == vocab.Quantity {
			s.follows(rs, c, in)
		}
		s.made(in)
		if y.Observable.Kind == vocab.Quantity {
			s.Limits = [2]float64{max(s.Limits[0], y.Observable.Span[0]), min(s.Limits[1], y.Observable.Span[1])}
		}
		out = append(out, s)
	}
	return out
}

// follows finds how a value's uncertainty follows from the stone.
func (s *Source) follows(rs *kb.Ruleset, c *casefile.Case, in *vocab.Instrument) {
	switch relative := measured(rs, c, s); {
	case relative > 0:
		s.computed = true
		s.uncertainty = func(value float64) float64 { return relative * math.Abs(value) }
	case s.yield.Formula != "":
		reckon := eval.CaseReader(rs).Reckon
		s.uncertainty = func(value float64) float64 { return reckon(c, s.yield, in, value) }
	}
}

// measured is the relative uncertainty of a quantity that is computed from the stone once it is measured; 0 for one
// that is not. Measurements that the case does not give are taken to be those of a stone of its weight, as they don't
// matter for it.
func measured(rs *kb.Ruleset, c *casefile.Case, s *Source) float64 {
	if !slices.ContainsFunc(s.Test.Derived, func(d kb.Derived) bool { return d.Observable == s.Observable }) {
		return 0
	}
	stone := c.Stone
	size := 1.0
	if stone.Carat != nil {
		size = math.Cbrt(*stone.Carat)
	}
	wide, deep := 6.5*size, 3.95*size // a round brilliant of diamond of a carat measures so much, in mm
	stone.Length, stone.Width, stone.Depth = &wide, &wide, &deep
	if r := Derived(rs, stone, func(r *casefile.Reading) bool {
		return r.Observable == s.Observable && r.Value != 0
	}); r != nil {
		return r.U / math.Abs(r.Value)
	}
	return 0
}

// Derived is the first of the readings that sheets compute from a stone that is one of those meant; nil: none is.
func Derived(rs *kb.Ruleset, stone casefile.Stone, meant func(*casefile.Reading) bool) *casefile.Reading {
	c := &casefile.Case{Stone: stone}
	eval.CaseReader(rs).Derive(c)
	if i := slices.IndexFunc(c.Readings, meant); i >= 0 {
		return c.Readings[i]
	}
	return nil
}

// made takes over the figures of the house's instrument; what is computed has none.
func (s *Source) made(in *vocab.Instrument) {
	if in == nil || s.computed {
		return
	}
	s.blunder = in.Blunder
	if in.Uncertainty > 0 {
		s.plain, s.uncertainty = in.Uncertainty, nil
	}
	if in.Limits != nil {
		s.Limits = *in.Limits
	}
}

func (s *Source) reading(form casefile.Form, outcome int) *casefile.Reading {
	return s.make(new(casefile.Reading), form, outcome)
}

func (s *Source) make(r *casefile.Reading, form casefile.Form, outcome int) *casefile.Reading {
	*r = casefile.Reading{Observable: s.Observable, Form: form, Outcome: outcome, Tests: s.tests,
		Instrument: s.Instrument, Blunder: s.yield.BlunderOf(outcome), U: s.plain, HighU: s.plain, Noise: s.plain,
		Repeats: 1, Derived: s.computed}
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
func (s *Source) Value(x float64) *casefile.Reading { return s.PutValue(new(casefile.Reading), x) }

// PutValue makes Value in the memory of a reading that is not needed any more.
func (s *Source) PutValue(r *casefile.Reading, x float64) *casefile.Reading {
	switch {
	case x > s.Limits[1]:
		return s.Above()
	case x < s.Limits[0]:
		return s.Below()
	}
	s.make(r, casefile.Value, -1)
	r.Value, r.U = x, s.U(x)
	r.HighU, r.Noise = r.U, r.U
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
	r.Value, r.U, r.High, r.HighU = low, s.U(low), high, s.U(high)
	r.Noise = max(r.U, r.HighU)
	return r
}

// Unclear is a test that was tried and stayed inconclusive.
func (s *Source) Unclear(reason string) *casefile.Reading {
	r := s.reading(casefile.Inconclusive, -1)
	r.Reason = reason
	return r
}
