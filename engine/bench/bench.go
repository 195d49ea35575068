// Package bench puts the bench arithmetic beside the ruleset: what a figure that was reckoned fits, what it rules
// out, and which weight of stone it would take. It uses the limits by which cases are judged, and judges nothing.
package bench

import (
	"cmp"
	"math"
	"slices"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/physics"
	"whystone/kb/vocab"
)

// Names of what weighing in a liquid is to a ruleset; the test's sheet and the house's instruments give the figure.
const (
	Gravity     = "specific_gravity"
	repeatsToCt = "repeats_to_ct"
)

// Balances are what those of the house repeat to that weigh in a liquid, as the standard uncertainty of a weighing in
// ct; else what the test's sheet assumes; nothing where no sheet of a test names such a figure.
func Balances(rs *kb.Ruleset) []float64 {
	o := rs.Vocabulary.Observable(Gravity)
	if o == nil {
		return nil
	}
	var out []float64
	for _, y := range rs.Vocabulary.Yields {
		i := slices.IndexFunc(y.Figures, func(f vocab.Figure) bool { return f.Name == repeatsToCt })
		if y.Observable != o || i < 0 {
			continue
		}
		before := len(out)
		for _, in := range rs.Vocabulary.Instruments {
			if own, ok := in.Figures[repeatsToCt]; ok && in.Test == y.Test {
				out = append(out, own)
			}
		}
		if assumed := y.Figures[i].Otherwise; len(out) == before && assumed != nil {
			out = append(out, *assumed)
		}
	}
	return out
}

// Weighed is the reading of specific gravity in a case that was made by weighing, or nil.
func Weighed(c *casefile.Case) *casefile.Reading {
	for _, r := range c.Readings {
		if r.Observable.Name == Gravity && r.Form == casefile.Value && r.Usable() {
			return r
		}
	}
	return nil
}

// RepeatsTo is what the instrument of a reading repeats to, in ct, where one is named or the house has just one.
func RepeatsTo(rs *kb.Ruleset, r *casefile.Reading) (ct float64, ok bool) {
	in := rs.Vocabulary.Instrument(r.Instrument)
	if in == nil && len(r.Tests) == 1 {
		in = rs.Vocabulary.HouseInstrument(r.Tests[0])
	}
	if in == nil {
		return 0, false
	}
	ct, ok = in.Figures[repeatsToCt]
	return ct, ok
}

// Beside is how a material lies to a reading of specific gravity.
type Beside struct {
	Material *kb.Material
	Gap      float64 // from the reading to the material's range, its tolerance taken off; 0: within
	RuledOut bool    // by this reading
	// FromCarat is the weight from which on such a weighing would rule the material out if the stone reads as it
	// does; 0: at no weight.
	FromCarat float64
}

// Neighbours are all materials whose sheets give a specific gravity beside a reading of it by weighing, the nearest
// first. The members of a group that have no sheet of their own are told by the group's.
func Neighbours(rs *kb.Ruleset, w physics.Weighing, sg, u float64) []Beside {
	out := BySize(rs, sg, u)
	for i := range out {
		if b := &out[i]; b.Gap > 0 {
			if least, err := w.LeastCarat(sg, b.Gap/rs.Policy.Misfit); err == nil {
				b.FromCarat = least
			}
		}
	}
	return out
}

// BySize is Neighbours of a specific gravity with a standard uncertainty that no weight of the stone improves.
func BySize(rs *kb.Ruleset, sg, u float64) []Beside {
	var out []Beside
	for _, m := range rs.Leaves {
		r := m.Ranges[Gravity]
		if r == nil || m.Other {
			continue
		}
		b := Beside{Material: m, Gap: max(r.Low-sg, sg-r.High, 0)}
		b.Gap = max(b.Gap-r.Tolerance, 0)
		b.RuledOut = b.Gap > rs.Policy.Misfit*u
		out = append(out, b)
	}
	slices.SortStableFunc(out, func(a, b Beside) int { return cmp.Compare(a.Gap, b.Gap) })
	return out
}

// Told is the smallest difference between a reading and a range that rules a material out on a stone of this weight,
// in specific gravity; infinite where such a stone can't be weighed.
func Told(rs *kb.Ruleset, w physics.Weighing, sg, carat float64) float64 {
	w.InAir = carat
	b, err := w.Budget(sg)
	if err != nil {
		return math.Inf(1)
	}
	return rs.Policy.Misfit * b.U
}
