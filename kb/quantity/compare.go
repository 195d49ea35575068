package quantity

import "math"

// Outcome is how a comparison comes out.
type Outcome int8

// The outcomes. The zero value claims nothing.
const (
	Undecided Outcome = iota
	Holds
	Fails
)

// String is the outcome in a word.
func (o Outcome) String() string {
	switch o {
	case Holds:
		return "holds"
	case Fails:
		return "fails"
	}
	return "undecided"
}

// Op is a comparison with a threshold.
type Op int

// The comparisons. Equality is missing on purpose: it says nothing about a measured quantity.
const (
	Less Op = iota
	LessEqual
	Greater
	GreaterEqual
)

// String is the comparison as it is written in a condition.
func (op Op) String() string {
	switch op {
	case Less:
		return "<"
	case LessEqual:
		return "<="
	case Greater:
		return ">"
	case GreaterEqual:
		return ">="
	}
	return "?"
}

// Compare tells how the closed interval [lo, hi] lies to a threshold. The decision rule: a comparison holds when it is true for
// every number of the interval, fails when it is false for every one, and is undecided otherwise. So:
//
//	x <  t   holds if hi <  t   fails if lo >= t
//	x <= t   holds if hi <= t   fails if lo >  t
//	x >  t   holds if lo >  t   fails if hi <= t
//	x >= t   holds if lo >= t   fails if hi <  t
//
// An interval of no width compares as a number does. Overlap is how far an undecided interval reaches over the threshold, to the
// nearer of its ends: by so much it misses a decision. It is 0 when decided, also where the end and the threshold coincide, and
// infinite where the interval has no limit on either side. NaN anywhere, or lo above hi, decides nothing.
func Compare(lo, hi float64, op Op, threshold float64) (o Outcome, overlap float64) {
	switch op {
	case Less:
		o = decide(hi < threshold, lo >= threshold)
	case LessEqual:
		o = decide(hi <= threshold, lo > threshold)
	case Greater:
		o = decide(lo > threshold, hi <= threshold)
	case GreaterEqual:
		o = decide(lo >= threshold, hi < threshold)
	}
	if !(lo <= hi) || math.IsNaN(threshold) {
		return Undecided, math.Inf(1)
	}
	if o != Undecided {
		return o, 0
	}
	if overlap = min(hi-threshold, threshold-lo); !(overlap > 0) {
		overlap = 0 // also where an infinite end meets an infinite threshold
	}
	return Undecided, overlap
}

func decide(holds, fails bool) Outcome {
	switch {
	case holds:
		return Holds
	case fails:
		return Fails
	}
	return Undecided
}
