package engine

import (
	"math"
	"math/bits"

	"whystone/kb/casefile"
	"whystone/kb/vocab"
)

// exclude marks the leaves whose range a quantity lies outside of, by more than misfit standard uncertainties and the
// sheet's tolerance. Their contribution is ln e; that of the others is computed when it is wanted.
func (j *Judge) exclude(it *item) {
	l := it.q.line
	it.known = it.own.known
	copy(it.known, l.untold)
	if it.none = l.none; it.none {
		return
	}
	j.outside(it)
	it.rulesOut = !it.excludes.empty()
	floor := math.Log(it.blunder)
	for k, word := range it.excludes {
		it.known[k] |= word
		for ; word != 0; word &= word - 1 {
			it.c[k*64+bits.TrailingZeros64(word)] = floor
		}
		for word = l.untold[k]; word != 0; word &= word - 1 {
			it.c[k*64+bits.TrailingZeros64(word)] = 0
		}
	}
}

// outside finds the leaves that a reading lies too far outside of. The sign bit of a difference tells without a branch:
// half of the materials fall on either side, in no order that a processor could guess.
func (j *Judge) outside(it *item) {
	q := it.q
	misfit := j.e.Ruleset.Policy.Misfit
	// A leaf is excluded when its whole range lies below lo or above hi, by more than the slack.
	lo, hi := q.x, q.x
	if q.form == casefile.Interval {
		lo, hi = q.lo, q.hi
	}
	if q.difference {
		hi = math.Inf(1) // a full turn can miss the extreme rays
	}
	lo = lessRounding(lo)
	high := lessRounding(q.high)
	for i := range q.line.reach {
		r := &q.line.reach[i]
		low := lessRounding(r.low)
		slack := misfit*q.u + r.tolerance
		out := below(r.high+slack, lo) | below(hi+slack, low)
		if q.rays {
			slack = misfit*q.highU + r.tolerance
			out |= below(r.high+slack, high) | below(q.high+slack, low)
		}
		for k, word := range r.leaves {
			it.excludes[k] |= word & -out
		}
	}
}

// lessRounding is a number less what the rounding of decimal figures can come to: a reading that lies exactly as far
// outside a range as it may, within 1 part in 10^9, excludes nothing.
func lessRounding(x float64) float64 { return x - 1e-9*math.Abs(x) }

// below is 1 if a < b, else 0.
func below(a, b float64) uint64 { return math.Float64bits(a-b) >> 63 }

// fill computes a vector's contribution to one leaf, if it isn't known yet.
func (j *Judge) fill(v *vector, i int) float64 {
	switch {
	case v.known.has(i):
	case v.base != nil:
		v.c[i] = j.fill(v.base, i)
		v.known.add(i)
	default:
		if like := v.q.line.like; like != nil && !v.apart && like[i] != i && !v.excludes.has(like[i]) {
			v.c[i] = j.fill(v, like[i])
		} else {
			v.c[i] = contribution(j.likelihood(v.q, i), v.q.any(), v.blunder)
		}
		v.known.add(i)
	}
	return v.c[i]
}

// fillAll fills a vector for all leaves of weight above zero.
func (j *Judge) fillAll(v *vector, w *weights) {
	for k, word := range v.known {
		for left := ^word &^ w.zero[k]; left != 0; left &= left - 1 {
			i := k<<6 + bits.TrailingZeros64(left)
			if i >= j.e.leaves {
				return
			}
			j.fill(v, i)
		}
	}
}

// any is how likely the reading is on any stone: spread over the observable's span.
func (q *quantityItem) any() float64 {
	width := q.span[1] - q.span[0]
	if q.form != casefile.Interval {
		return 1 / width
	}
	return (math.Min(q.hi, q.span[1]) - math.Max(q.lo, q.span[0])) / width
}

// likelihood is that of the reading under a leaf: a density, or for bounds a probability.
func (j *Judge) likelihood(q *quantityItem, i int) float64 {
	r := q.line.ranges[i]
	a, b, typical := r.Low, r.High, r.Typical
	if q.rays {
		d1 := j.e.smallestBirefringence(i)
		b = math.Max(a, b-d1)
		if typical != nil {
			typical = clip(*typical, a, b)
		}
	}
	l := q.over(a, b)
	if typical != nil {
		l = typicalWeight*q.over(typical[0], typical[1]) + (1-typicalWeight)*l
	}
	if q.difference && a > 0 {
		missed := j.e.Ruleset.Policy.MissedTurn
		l = (1-missed)*l + missed*q.over(0, a)
	}
	return l
}

func clip(t [2]float64, a, b float64) *[2]float64 {
	lo, hi := math.Max(t[0], a), math.Min(t[1], b)
	if lo > hi {
		return nil
	}
	return &[2]float64{lo, hi}
}

func (e *Engine) smallestBirefringence(i int) float64 {
	if r := e.Ruleset.Leaves[i].Ranges[vocab.Birefringence]; r != nil {
		return r.Low
	}
	return 0
}

// over is the likelihood of the reading under a true value uniform over [a, b].
func (q *quantityItem) over(a, b float64) float64 {
	a, b = widened(a, b, q.resolution)
	if q.form == casefile.Interval {
		return intervalProbability(q.lo, q.hi, q.u, a, b)
	}
	return valueDensity(q.x, q.u, a, b)
}
