package rulesets_test

import (
	"hash/fnv"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/physics"
	"whystone/kb/vocab"
)

// drawer draws stones and what is read on them from the sheets of a ruleset, by the arithmetic that the sheets mean: a
// true value uniform over a range, an outcome as often as its word says, a reading normal about the truth and cut at 3
// standard uncertainties. Seeded per material, so that another material more changes no draw.
type drawer struct {
	t        testing.TB
	rs       *kb.Ruleset
	rng      *rand.Rand
	starts   starts
	blunders bool // at the rates of the test sheets; else none
	carat    float64
}

func newDrawer(t testing.TB, rs *kb.Ruleset, leaf *kb.Material, seed uint64, blunders bool) *drawer {
	h := fnv.New64a()
	h.Write([]byte(leaf.ID))
	return &drawer{t: t, rs: rs, rng: rand.New(rand.NewPCG(seed, h.Sum64())), starts: publishedStarts(t, leaf),
		blunders: blunders, carat: 1}
}

// stoneDrawn is one stone with its readings, as a case file would give them.
type stoneDrawn struct {
	stone, readings map[string]any
	blundered       []string // the observables whose reading says nothing of the stone
}

func (s *stoneDrawn) caseOf(t testing.TB, rs *kb.Ruleset) *casefile.Case {
	return caseOf(t, rs, map[string]any{"stone": s.stone, "readings": s.readings})
}

// kit is how often a desk makes a test. One that isn't listed is rare, and one that harms the stone rarer.
var kit = map[string]float64{
	"thermal-probe": 0.7, "conduction-probe": 0.3, "refractometer": 0.6, "hydrostatic-weighing": 0.5,
	"weight-against-size": 0.5, "loupe-doubling": 0.6, "polariscope": 0.4, "optic-figure": 0.25, "loupe": 0.6,
	"girdle-and-edges": 0.3, "looking-for-a-join": 0.3, "ultraviolet-lamp": 0.3, "reflectivity-meter": 0.15,
	"unaided-eye": 0.3, "reading-through": 0.15, "breath-fog": 0.15, "heft-in-the-hand": 0.1,
}

func (d *drawer) chance(test *kb.Test) float64 {
	switch c, listed := kit[test.ID]; {
	case listed:
		return c
	case test.Harmless():
		return 0.05
	}
	return 0.02
}

// draw draws a stone of a material: some of the tests, each with all that it yields. always are observables that are
// read in any case.
func (d *drawer) draw(leaf *kb.Material, fromPublished bool, always ...string) *stoneDrawn {
	s := &stoneDrawn{stone: map[string]any{"mounted": false, "warm": false, "wet": false, "carat": d.carat},
		readings: map[string]any{}}
	drawn := d.truth(leaf, fromPublished)
	for _, test := range d.rs.Tests {
		made := d.happens(d.chance(test))
		for _, y := range test.Yields {
			if o := y.Observable; o.Test == test.ID && (made || slices.Contains(always, o.Name)) {
				d.read(s, leaf, y, drawn)
			}
		}
	}
	return s
}

func (d *drawer) read(s *stoneDrawn, leaf *kb.Material, y *vocab.Yield, drawn truths) {
	switch o := y.Observable; {
	case o.Name == vocab.Birefringence: // comes with the rays
	case o.Name == vocab.RefractiveIndex:
		d.index(s, y, drawn)
	case o.Name == "size_density":
		d.size(s, o, y, drawn)
	case o.Kind == vocab.Quantity:
		d.quantity(s, o, y, drawn)
	case o.Kind == vocab.Choice:
		d.choice(s, o, y, leaf.Choices[o.Name])
	case o.Kind == vocab.Features:
		d.features(s, o, y, leaf.Features[o.Name])
	}
}

func (d *drawer) happens(chance float64) bool { return d.rng.Float64() < chance }

func (d *drawer) uniform(low, high float64) float64 { return low + d.rng.Float64()*(high-low) }

// noise is a standard normal error cut at 3.
func (d *drawer) noise() float64 {
	for {
		if z := d.rng.NormFloat64(); math.Abs(z) <= 3 {
			return z
		}
	}
}

func (d *drawer) blunder(s *stoneDrawn, o *vocab.Observable, rate float64) bool {
	if !d.blunders || !d.happens(rate) {
		return false
	}
	s.blundered = append(s.blundered, o.Name)
	return true
}

// truths are the true values of one stone.
type truths struct {
	low, high float64 // the extreme rays
	rays      bool    // whether the sheet gives an index
	of        map[string]float64
}

// within draws from a range: nine in ten from its typical part, where it has one.
func (d *drawer) within(r *kb.Range) float64 {
	if r.Typical != nil && d.happens(0.9) {
		return d.uniform(r.Typical[0], r.Typical[1])
	}
	return d.uniform(r.Low, r.High)
}

// truth draws the properties of a stone: from the published values of its material where there are any, or from its
// sheet.
func (d *drawer) truth(leaf *kb.Material, fromPublished bool) truths {
	out := truths{of: map[string]float64{}}
	for _, o := range d.rs.Vocabulary.Observables {
		if r := leaf.Ranges[o.Property]; o.Kind == vocab.Quantity && r != nil && r.Derived == "" {
			if _, drawn := out.of[o.Property]; !drawn {
				out.of[o.Property] = d.within(r)
			}
		}
	}
	if r := leaf.Ranges[vocab.RefractiveIndex]; r != nil {
		// its typical part is the crown's, which the refractometer reads
		if leaf.Origin == "assembled" && r.Typical != nil {
			r = &kb.Range{Low: r.Typical[0], High: r.Typical[1]}
		}
		out.rays = true
		out.low, out.high = d.rays(r, leaf.Ranges[vocab.Birefringence])
	}
	if fromPublished {
		if len(d.starts.rays) > 0 {
			pair := d.starts.rays[d.rng.IntN(len(d.starts.rays))]
			out.low, out.high, out.rays = pair[0], pair[1], true
		}
		for property, values := range d.starts.of {
			out.of[property] = values[d.rng.IntN(len(values))]
		}
	}
	d.goesWith(leaf, &out, fromPublished)
	if r := leaf.Ranges[vocab.Reflectance]; r != nil && r.Derived != "" && out.rays {
		out.of[vocab.Reflectance] = physics.Reflectance(d.uniform(out.low, out.high))
	}
	return out
}

// goesWith draws anew what the sheet lets go with the rays, unless a published value goes with them: those of several
// papers are of several stones.
func (d *drawer) goesWith(leaf *kb.Material, out *truths, fromPublished bool) {
	for _, of := range slices.Sorted(maps.Keys(leaf.Relations)) {
		r := leaf.Relations[of]
		if !out.rays || r.By.Name != vocab.RefractiveIndex || of == vocab.Birefringence {
			continue
		}
		at := mixture{low: out.low, high: out.high}.ray(r.Ray)
		low, high := r.Narrow(leaf.Ranges[of], at, at)
		if x := out.of[of]; fromPublished && len(d.starts.of[of]) > 0 && low <= x && x <= high {
			continue
		}
		out.of[of] = d.uniform(low, high)
	}
}

// rays draws the two extreme rays: their difference from the sheet's birefringence, the low one so that both fit in.
func (d *drawer) rays(r, difference *kb.Range) (low, high float64) {
	apart := 0.0
	if difference != nil {
		apart = math.Min(d.within(difference), r.High-r.Low)
	}
	for range 100 {
		if low = d.within(r); low+apart <= r.High {
			return low, low + apart
		}
	}
	return r.High - apart, r.High
}

// starts are the published values of a material.
type starts struct {
	rays [][2]float64
	of   map[string][]float64
}

// publishedStarts gathers the figures that sheets.csv holds against a leaf or a group above it.
func publishedStarts(t testing.TB, leaf *kb.Material) starts {
	out := starts{of: map[string][]float64{}}
	used := startsOf(t)
	for n := leaf; n != nil; n = n.Parent {
		figures := used[n.ID]
		for i, f := range figures {
			switch f.what {
			case "ri":
				pair := [2]float64{f.value, f.value}
				for _, g := range figures[i+1:] { // the other ray of the same paper
					if g.what == "ri" && paper(g.row) == paper(f.row) {
						pair[0], pair[1] = math.Min(pair[0], g.value), math.Max(pair[1], g.value)
					}
				}
				if !isolatedRay(f.row) || pair[0] != pair[1] {
					out.rays = append(out.rays, pair)
				}
			case "dispersion", "cell", "molar_volume", "density":
				out.of[f.property()] = append(out.of[f.property()], f.value)
			}
		}
		if len(figures) > 0 {
			break
		}
	}
	return out
}
