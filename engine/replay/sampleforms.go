package replay

import (
	"math"
	"slices"
	"strconv"

	"whystone/kb"
	"whystone/kb/vocab"
)

// Archives of houses hold more forms of readings than a number or a word: two rays of a full turn, repeats, places of
// the stone, bounds, instruments by name; stones whose measurements were taken, and density readings of stones in a
// mount, which do not count. A sample in all forms draws these too, in parts that are invented.

// forms are the parts of readings that are drawn in each form.
const (
	partRays        = 0.5 // of indices of materials with two rays
	partRepeats     = 0.08
	partPlaces      = 0.04
	partBounds      = 0.05
	partInstruments = 0.15
	partMeasured    = 0.4 // of stones
	partMountedRead = 0.1 // of density readings of mounted stones that are made all the same
	partLines       = 0.3 // of lines of a spectrum that are told by their place; and of those with a strength
	// roundBrilliant is weight in carat over length, width, depth in mm and specific gravity, of a round brilliant
	// (common practice).
	roundBrilliant = 0.0018
	depthOfWidth   = 0.61
)

// number is a number as somebody writes it down.
func (s *sampler) number(y *vocab.Yield, m *kb.Material, x float64, round func(float64) float64) any {
	o := y.Observable
	if !s.forms {
		return x
	}
	within := func(v float64) float64 {
		return math.Max(math.Max(o.Span[0], y.Limits[0]), math.Min(math.Min(o.Span[1], y.Limits[1]), round(v)))
	}
	if two := m.Ranges[vocab.Birefringence]; o.Name == vocab.RefractiveIndex && two != nil &&
		s.rng.Float64() < partRays {
		return []float64{x, math.Max(x, within(x+two.Low+s.rng.Float64()*(two.High-two.Low)))}
	}
	again := func() float64 { return within(x + s.rng.NormFloat64()*y.Uncertainty) }
	switch kind := s.rng.Float64(); {
	case kind < partRepeats:
		return []any{map[string]any{"value": x}, map[string]any{"value": again()}}
	case kind < partRepeats+partPlaces:
		return []any{map[string]any{"value": x, "where": "table"}, map[string]any{"value": again(),
			"where": "pavilion"}}
	case kind < partRepeats+partPlaces+partBounds:
		low, high := within(x-3*y.Uncertainty), within(x+3*y.Uncertainty)
		if low < high {
			return map[string]any{"between": []float64{low, high}}
		}
	case kind < partRepeats+partPlaces+partBounds+partInstruments:
		if in := s.instrument(y, x); in != "" {
			return map[string]any{"value": x, "instrument": in}
		}
	}
	return x
}

// instrument is one of the house that reads this, or empty.
func (s *sampler) instrument(y *vocab.Yield, x float64) string {
	for _, in := range s.rs.Vocabulary.Instruments {
		if in.Test == y.Test && (in.Observable == "" || in.Observable == y.Observable.Name) &&
			(in.Limits == nil || x >= in.Limits[0] && x <= in.Limits[1]) {
			return in.ID
		}
	}
	return ""
}

// word is a choice as somebody writes it down; a blunder of that very outcome makes it another.
func (s *sampler) word(y *vocab.Yield, outcome int) any {
	o := y.Observable
	if !s.forms {
		return o.Outcomes[outcome].Name
	}
	if s.rng.Float64() < y.BlunderOf(outcome)-y.Blunder {
		outcome = s.rng.IntN(len(o.Outcomes))
	}
	name := o.Outcomes[outcome].Name
	if s.rng.Float64() < partPlaces {
		return []any{map[string]any{"choice": name, "where": "table"},
			map[string]any{"choice": name, "where": "pavilion"}}
	}
	return name
}

// lines are features as somebody writes them down: some by where they lie, or with how strong they look.
func (s *sampler) lines(o *vocab.Observable, f *kb.Frequencies, seen []string) []string {
	if !s.forms {
		return seen
	}
	out := []string{}
	for _, name := range seen {
		i, _ := o.Outcome(name)
		c := &o.Outcomes[i]
		as := []string{name}
		if len(c.At) > 0 && s.rng.Float64() < partLines {
			as = nil
			for _, at := range c.At {
				as = append(as, strconv.FormatFloat(math.Round(at+(s.rng.Float64()-0.5)*c.Within), 'f', -1, 64))
			}
		}
		if len(o.Strengths) > 0 && s.rng.Float64() < partLines {
			as[0] += " " + s.strength(o, f, name)
		}
		out = append(out, as...)
	}
	return out
}

// strength is how strong a feature looks: as the material's sheet has it, if it says so, most of the times.
func (s *sampler) strength(o *vocab.Observable, f *kb.Frequencies, name string) string {
	if f != nil && s.rng.Float64() < 0.8 {
		if by := kb.ByFrequency(f.Strengths[name]); len(by) > 0 && by[0].Word != kb.Never {
			return by[0].Outcomes[0]
		}
	}
	return o.Strengths[s.rng.IntN(len(o.Strengths))]
}

// measure gives part of the stones the measurements of a round brilliant of their weight.
func (s *sampler) measure(r *record, m *kb.Material) {
	gravity := m.Ranges["specific_gravity"]
	if !s.forms || gravity == nil || s.rng.Float64() >= partMeasured {
		return
	}
	carat := r.Stone["carat"].(float64)
	sg := gravity.Low + s.rng.Float64()*(gravity.High-gravity.Low)
	width := math.Cbrt(carat / (roundBrilliant * depthOfWidth * sg))
	hundredth := func(mm float64) float64 { return math.Round(mm*100) / 100 }
	r.Stone["cut"], r.Stone["length_mm"], r.Stone["width_mm"], r.Stone["depth_mm"] = "round brilliant",
		hundredth(width*1.004), hundredth(width*0.996), hundredth(width*depthOfWidth)
}

// derived tells whether a quantity follows from the measurements that a stone has, so that nobody writes it down.
func (s *sampler) derived(r *record, t *kb.Test, o *vocab.Observable) bool {
	return r.Stone["cut"] != nil && slices.ContainsFunc(t.Derived, func(d kb.Derived) bool { return d.Observable == o })
}
