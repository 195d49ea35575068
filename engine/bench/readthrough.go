package bench

import (
	"slices"

	"whystone/kb"
	"whystone/kb/physics/raytrace"
	"whystone/kb/vocab"
)

// Seen is whether print can be seen through a stone at all. That it can does not say that anybody reads it: facets
// break it up.
type Seen string

// What can be said of a material, whose index has a range.
const (
	CanBeSeen    Seen = "can be seen"
	CantBeSeen   Seen = "can't be seen"
	SeenInPlaces Seen = "by its index" // at one end of the range it can, at the other it can't
)

// TooLittle is the part of the view, from the paper directly, below which print can't be seen: what comes by the edge
// of the table near the culet is no more (a choice of ours).
const TooLittle = 0.05

// ReadThrough is what an eye sees through a brilliant of a material.
type ReadThrough struct {
	Of     *kb.Material  `json:"-"`                  // nil: of an index alone
	ID     string        `json:"material,omitempty"` // its id
	Index  [2]float64    `json:"index"`
	Print  Seen          `json:"print"`
	AtLow  raytrace.View `json:"at_low"` // parts of the view, at either end of the index
	AtHigh raytrace.View `json:"at_high"`
}

// ReadThroughOf looks through a brilliant of each index from low to high, which is to say of its ends.
func ReadThroughOf(p raytrace.Proportions, low, high, tilt float64) (ReadThrough, error) {
	out := ReadThrough{Index: [2]float64{low, high}}
	for _, end := range []struct {
		index float64
		view  *raytrace.View
	}{{low, &out.AtLow}, {high, &out.AtHigh}} {
		s, err := raytrace.Brilliant(p, end.index)
		if err != nil {
			return out, err
		}
		if *end.view, err = s.Look(tilt); err != nil {
			return out, err
		}
	}
	switch a, b := out.AtLow.Direct >= TooLittle, out.AtHigh.Direct >= TooLittle; {
	case a && b:
		out.Print = CanBeSeen
	case a || b:
		out.Print = SeenInPlaces
	default:
		out.Print = CantBeSeen
	}
	return out, nil
}

// ReadThroughs are all materials of which a sheet gives an index and does not call them opaque, by rising index.
func ReadThroughs(rs *kb.Ruleset, p raytrace.Proportions, tilt float64) ([]ReadThrough, error) {
	var out []ReadThrough
	for _, m := range rs.Leaves {
		r := m.Ranges[vocab.RefractiveIndex]
		if r == nil || m.Other {
			continue
		}
		if f := m.Choices[vocab.Transparency]; f != nil && f.Single == "opaque" {
			continue
		}
		x, err := ReadThroughOf(p, r.Low, r.High, tilt)
		if err != nil {
			return nil, err
		}
		x.Of, x.ID = m, m.ID
		out = append(out, x)
	}
	slices.SortStableFunc(out, func(a, b ReadThrough) int { return slices.Compare(a.Index[:], b.Index[:]) })
	return out, nil
}
