package quantity

import (
	"cmp"
	"math"
	"slices"
)

// Sample is one of several readings of the same thing: a value with its standard uncertainty (k = 1), in the same unit.
type Sample struct{ Value, U float64 }

// Combine merges independent repeats by inverse-variance weighting: weights 1/u², and the uncertainty of the result is
// 1/sqrt(sum of 1/u²). Exact samples (u = 0) outweigh all others. ok is false, and the result 0, when any two differ by
// more than 2 sqrt(u1² + u2²), when there are none, or when a sample is not finite or its uncertainty negative. The
// order of the samples doesn't change a bit of the result.
func Combine(s []Sample) (merged Sample, ok bool) {
	if len(s) == 0 || !agree(s) {
		return Sample{}, false
	}
	s = slices.Clone(s)
	slices.SortFunc(s, func(a, b Sample) int { return cmp.Or(cmp.Compare(a.U, b.U), cmp.Compare(a.Value, b.Value)) })
	best := s[0]
	if best.U == 0 {
		return best, true
	}
	// Weights relative to the best sample, deviations from it: no squares of tiny numbers, and no digits lost in a
	// large value.
	var weights, deviations float64
	for _, x := range s {
		ratio := best.U / x.U
		w := float64(ratio * ratio)
		weights += w
		deviations += float64(w * (x.Value - best.Value))
	}
	return Sample{best.Value + deviations/weights, best.U / math.Sqrt(weights)}, true
}

// agree tells whether the samples are usable and no two of them differ by more than their uncertainties allow.
func agree(s []Sample) bool {
	for i, a := range s {
		if !finite(a.Value) || !finite(a.U) || a.U < 0 {
			return false
		}
		for _, b := range s[:i] {
			if math.Abs(a.Value-b.Value) > coverage*math.Hypot(a.U, b.U) {
				return false
			}
		}
	}
	return true
}
