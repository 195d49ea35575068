package possible

import (
	"math/bits"
	"slices"

	"whystone/kb/casefile"
	"whystone/kb/quantity"
	"whystone/kb/vocab"
)

// Again is what two readings of one observable in one place come to, as at intake: one that stayed inconclusive does not
// count beside one that didn't, agreeing ones are combined, and those that disagree are inconclusive together.
func Again(old, fresh *casefile.Reading) *casefile.Reading {
	switch {
	case old.Disagrees || !fresh.Usable():
		return old
	case !old.Usable():
		out := *fresh
		out.Where = old.Where
		return &out
	}
	out := *old
	out.Tests = append(slices.Clone(old.Tests), fresh.Tests...)
	slices.Sort(out.Tests)
	out.Tests = slices.Compact(out.Tests)
	out.Blunder, out.Noise, out.Repeats = max(old.Blunder, fresh.Blunder), max(old.Noise, fresh.Noise), old.Repeats+fresh.Repeats
	if fresh.Instrument != old.Instrument {
		out.Instrument = ""
	}
	if !join(&out, old, fresh) {
		return &casefile.Reading{Observable: old.Observable, Where: old.Where, Form: casefile.Inconclusive, Disagrees: true,
			Reason: "repeats disagree", Tests: out.Tests, Blunder: out.Blunder, Repeats: out.Repeats}
	}
	return &out
}

func join(out, a, b *casefile.Reading) bool {
	switch out.Observable.Kind {
	case vocab.Choice:
		return joinChoices(out, a, b)
	case vocab.Features:
		out.Seen.Union(b.Seen)
		out.LookedFor.Union(b.LookedFor)
		return true
	}
	if a.Form > b.Form { // values first, then bounds, then rays
		a, b = b, a
	}
	switch {
	case a.Form == casefile.Value && b.Form == casefile.Value:
		return joinValues(&out.Value, &out.U, a.Value, a.U, b.Value, b.U)
	case a.Form == casefile.Pair && b.Form == casefile.Pair:
		return joinValues(&out.Value, &out.U, a.Value, a.U, b.Value, b.U) && joinValues(&out.High, &out.HighU, a.High, a.HighU, b.High, b.HighU)
	case a.Form == casefile.Interval && b.Form == casefile.Interval:
		out.Lo, out.Hi = max(a.Lo, b.Lo), min(a.Hi, b.Hi)
		return out.Lo <= out.Hi
	case a.Form == casefile.Value && b.Form == casefile.Interval:
		copyNumbers(out, a)
		return a.Value+2*a.U >= b.Lo && a.Value-2*a.U <= b.Hi
	case a.Form == casefile.Interval:
		copyNumbers(out, b)
		return b.Value+2*b.U >= a.Lo && b.High-2*b.HighU <= a.Hi
	default: // a value beside two rays lies on one of them
		copyNumbers(out, b)
		var x, u float64
		return joinValues(&x, &u, a.Value, a.U, b.Value, b.U) || joinValues(&x, &u, a.Value, a.U, b.High, b.HighU)
	}
}

func joinChoices(out, a, b *casefile.Reading) bool {
	x, y := out.Observable.Meaning(a.Outcome), out.Observable.Meaning(b.Outcome)
	if bits.OnesCount64(y) < bits.OnesCount64(x) {
		out.Outcome = b.Outcome
	}
	return x&y != 0
}

func joinValues(value, u *float64, x, ux, y, uy float64) bool {
	s, ok := quantity.Combine([]quantity.Sample{{Value: x, U: ux}, {Value: y, U: uy}})
	*value, *u = s.Value, s.U
	return ok
}

func copyNumbers(out, r *casefile.Reading) {
	out.Form, out.Value, out.U, out.High, out.HighU = r.Form, r.Value, r.U, r.High, r.HighU
}

// With is the case with some readings more, each beside those that are there: one of an observable that was read
// already is a repeat in the first place where it was read. Neither the case nor its readings are changed.
func With(c *casefile.Case, more ...*casefile.Reading) *casefile.Case {
	out := *c
	out.Readings = append(make([]*casefile.Reading, 0, len(c.Readings)+len(more)), c.Readings...)
	for _, r := range more {
		i := slices.IndexFunc(out.Readings, func(o *casefile.Reading) bool { return o.Observable == r.Observable })
		if i >= 0 {
			out.Readings[i] = Again(out.Readings[i], r)
			continue
		}
		out.Add(r)
	}
	return &out
}
