package kb

import (
	"math"
	"slices"

	"whystone/kb/diag"
	"whystone/kb/vocab"
)

// Relation is how one property of a material goes with a quantity that was read beside it, as density goes with the
// index within a series of garnets: the property lies no further than Within from the line through the points. The line
// is straight between two points, and level beyond the first and the last.
type Relation struct {
	Of      string            // the property that it narrows
	By      *vocab.Observable // the quantity that it goes by, of another family than all that measure Of
	Ray     Ray               // of the index: which ray the points are of
	Through [][2]float64      // By and Of in their units, rising in By; two points at least
	Within  float64           // in the unit of Of, above 0
	Source  string
	SaidBy  *Material // the node whose sheet says it
	Span    diag.Span
}

// Ray is which of the two extreme rays of a stone is meant.
type Ray string

// The rays. What is singly refractive has one, which is all of them.
const (
	LowRay  Ray = "low"
	MeanRay Ray = "mean" // half way between the two
	HighRay Ray = "high"
)

// Rays are all of them.
var Rays = []Ray{LowRay, MeanRay, HighRay}

// At is where the line is at a value of By, in the unit of Of.
func (r *Relation) At(x float64) float64 {
	n := slices.IndexFunc(r.Through, func(p [2]float64) bool { return x <= p[0] })
	switch {
	case n < 0:
		return r.Through[len(r.Through)-1][1]
	case n == 0:
		return r.Through[0][1]
	}
	a, b := r.Through[n-1], r.Through[n]
	return a[1] + (b[1]-a[1])*((x-a[0])/(b[0]-a[0]))
}

// Band is where Of can lie while By lies from low to high, either of which may be infinite.
func (r *Relation) Band(low, high float64) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, x := range r.Turns(low, high) {
		lo, hi = math.Min(lo, r.At(x)), math.Max(hi, r.At(x))
	}
	return lo - r.Within, hi + r.Within
}

// Narrow is the part of a range that the band leaves while By lies from low to high. Where the band misses the range,
// it is the end of the range that lies nearer: so that whatever widens a reading never takes away what was left.
func (r *Relation) Narrow(of *Range, low, high float64) (lo, hi float64) {
	lo, hi = r.Band(low, high)
	return math.Max(of.Low, math.Min(of.High, lo)), math.Max(of.Low, math.Min(of.High, hi))
}

// Misses tells whether the band leaves nothing of a range while By lies from low to high.
func (r *Relation) Misses(of *Range, low, high float64) bool {
	lo, hi := r.Band(low, high)
	return lo > of.High || hi < of.Low
}

// Turns are the values of By, from low to high, between which the line is straight: both ends, and the points between
// them.
func (r *Relation) Turns(low, high float64) []float64 {
	out := []float64{low}
	for _, p := range r.Through {
		if p[0] > low && p[0] < high {
			out = append(out, p[0])
		}
	}
	return append(out, high)
}

// Reach is where the quantity that a relation goes by can lie on a stone of this material, when one ray was read from
// low to high: a reading of one ray may be any that lies between the two.
func (m *Material) Reach(r *Relation, low, high float64) (float64, float64) {
	split := m.Ranges[vocab.Birefringence]
	if r.Ray == "" || split == nil {
		return low, high
	}
	switch r.Ray {
	case LowRay:
		return low - split.High, high
	case HighRay:
		return low, high + split.High
	}
	return low - split.High/2, high + split.High/2
}
