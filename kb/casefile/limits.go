package casefile

import (
	"math"
	"strconv"

	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// A stone heavier or larger than this is no stone that comes to a counter, and no instrument of one reads it: what is
// meant is another unit. 100,000 ct are 20 kg.
const (
	mostCarat = 100_000
	mostMM    = 1_000
)

// possible tells whether a stone's weight can be so much, or one of its measurements. They are numbered as the stone's
// keys have them: the weight first.
func possible(number int, x float64) bool { return x > 0 && x <= most(number) }

func most(number int) float64 {
	if number == 0 {
		return mostCarat
	}
	return mostMM
}

// impossible refuses such a number.
func impossible(number int, x float64, n *syntax.Node, out *diag.List) {
	key := diag.Name(stoneKeys[4+number])
	if x <= 0 {
		out.Errorf(diag.BadNumber, n.Span, "%s must be above zero", key)
		return
	}
	unit, advice := "ct", "A weight is written in carats: 1 g is 5 ct."
	if number > 0 {
		unit, advice = "mm", "A measurement is written in millimetres."
	}
	out.Errorf(diag.BadNumber, n.Span, "%s can't be %s: at most %s %s are taken", key, n.Text,
		english.Thousands(most(number)), unit).Detail = advice
}

// tooWide refuses an uncertainty that is wider than all that an observable can be: such a reading says nothing.
func tooWide(o *vocab.Observable, u float64, n *syntax.Node, out *diag.List) {
	text := func(v float64) string { return strconv.FormatFloat(v, 'g', 12, 64) }
	out.Errorf(diag.BadNumber, n.Span, "an uncertainty of %s is wider than all that %s can be, which is %s to %s%s",
		text(u), diag.Name(o.Name), text(o.Span[0]), text(o.Span[1]), unit(o)).
		Detail = "It is the standard uncertainty, in the unit of the value and not in per cent."
}

// limits are what can be read at all of a quantity by a test, with the instrument of the reading.
func (rd *Reader) limits(r *Reading, y *vocab.Yield) [2]float64 {
	if inst := rd.instrument(r); inst != nil && inst.Limits != nil {
		return *inst.Limits
	}
	return y.Limits
}

// withinReach refuses what lies outside the observable's span, or beyond what a test or instrument can read.
func withinReach(r *Reading, limits [2]float64, test string, n *syntax.Node, out *diag.List) bool {
	o := r.Observable
	name := diag.Name(o.Name)
	// a bound is one step beside what was written
	text := func(v float64) string { return strconv.FormatFloat(v, 'g', 12, 64) }
	var values []float64
	switch r.Form {
	case Value:
		values = []float64{r.Value}
	case Pair:
		values = []float64{r.Value, r.High}
	case Interval:
		if r.Hi <= o.Span[0] || r.Lo >= o.Span[1] {
			out.Errorf(diag.OutOfSpan, n.Span, "%s lies from %s to %s%s; this bound leaves nothing of it", name,
				text(o.Span[0]), text(o.Span[1]), unit(o))
			return false
		}
		// A bound at the very limit is what an instrument says that shows nothing; one beyond it can't have been read.
		if !math.IsInf(r.Lo, 0) && r.Lo > math.Nextafter(limits[1], math.Inf(1)) {
			values = append(values, r.Lo)
		}
		if !math.IsInf(r.Hi, 0) && r.Hi < math.Nextafter(limits[0], math.Inf(-1)) {
			values = append(values, r.Hi)
		}
	}
	for _, v := range values {
		switch {
		case v < o.Span[0] || v > o.Span[1]:
			out.Errorf(diag.OutOfSpan, n.Span, "%s can't be %s: it lies from %s to %s%s", name, text(v),
				text(o.Span[0]), text(o.Span[1]), unit(o))
			return false
		case v > limits[1]:
			d := out.Errorf(diag.BeyondLimit, n.Span, "%s reads %s up to %s only", diag.Test(test), name, text(limits[1]))
			d.Detail = "If nothing was seen up to the limit, that is the reading. If another test gave the value, name it."
			d.Write = "Write {above: " + text(limits[1]) + "}, or {value: " + text(v) + ", test: ...}."
			return false
		case v < limits[0]:
			d := out.Errorf(diag.BeyondLimit, n.Span, "%s reads %s from %s up only", diag.Test(test), name, text(limits[0]))
			d.Detail = "If nothing was seen down to the limit, that is the reading."
			d.Write = "Write {below: " + text(limits[0]) + "}."
			return false
		}
	}
	return true
}

func unit(o *vocab.Observable) string {
	if o.Unit == "" || o.Unit == "1" {
		return ""
	}
	return " " + o.Unit
}
