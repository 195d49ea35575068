package engine

import (
	"math"

	"whystone/kb/casefile"
	"whystone/kb/vocab"
)

// exclude marks the leaves whose range a quantity lies outside of, by more than misfit standard uncertainties and the
// sheet's tolerance. Their contribution is ln e; that of the others is computed when it is wanted.
func (j *Judge) exclude(it *item) {
	floor := math.Log(it.blunder)
	misfit := j.e.Ruleset.Policy.Misfit
	it.none = true
	for i := range it.q.line.reach {
		r := &it.q.line.reach[i]
		if !r.given {
			it.c[i] = 0
			it.known.add(i)
			continue
		}
		it.none = false
		if it.q.outside(r, misfit) {
			it.c[i] = floor
			it.known.add(i)
			it.excludes.add(i)
		}
	}
}

// outside tells whether a reading lies so far outside a range that it excludes the material.
func (q *quantityItem) outside(r *reach, misfit float64) bool {
	slack := misfit*q.u + r.tolerance
	if q.form == casefile.Interval {
		return r.high < q.lo-slack || r.low > q.hi+slack
	}
	if q.x > r.high+slack || q.x < r.low-slack && !q.difference { // a full turn can miss the extreme rays
		return true
	}
	if q.rays {
		slack = misfit*q.highU + r.tolerance
		return q.high < r.low-slack || q.high > r.high+slack
	}
	return false
}

// fill computes an item's contribution to one leaf, if it isn't known yet.
func (j *Judge) fill(it *item, i int) float64 {
	if !it.known.has(i) {
		it.c[i] = contribution(j.likelihood(it.q, i), it.q.any(), it.blunder)
		it.known.add(i)
	}
	return it.c[i]
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
		d1 := j.smallestBirefringence(i)
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

func (j *Judge) smallestBirefringence(i int) float64 {
	if r := j.e.Ruleset.Leaves[i].Ranges[vocab.Birefringence]; r != nil {
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
