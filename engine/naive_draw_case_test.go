package engine_test

import (
	"fmt"
	"math"
	"strings"
)

// drawCase writes a random case: readings of one material, some of them mistaken, in every form that a case can have.
func (d *drawn) drawCase(id string) string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("format: 1")
	line("case: %s", id)
	if d.chance(0.8) {
		line("claim: %q", pick(d, d.words...))
	}
	if d.chance(0.5) {
		line("stake: %g", pick(d, 10.0, 1000, 5000, 30000))
	}
	line("stone: {mounted: %s, wet: %s, warm: %s, carat: %s}", d.answer(0.2), d.answer(0.2), d.answer(0.1), pick(d, "1", "0.5"))
	line("readings:")
	truth := d.sheets[pick(d, d.leaves...)]
	other := d.sheets[pick(d, d.leaves...)]
	much := pick(d, 0.1, 0.3, 0.5, 0.75)
	for _, o := range d.observed {
		if !d.chance(much) {
			continue
		}
		from := truth
		if d.chance(0.12) {
			from = other
		}
		switch {
		case d.chance(0.05):
			line("  %s: {inconclusive: drawn}", o.name)
		case d.chance(0.12):
			line("  %s: [%s, %s]", o.name, d.reading(o, from, true, "crown"), d.reading(o, pick(d, truth, other), true, "pavilion"))
		case d.chance(0.1):
			line("  %s: [%s, %s]", o.name, d.reading(o, from, true, ""), d.reading(o, from, true, ""))
		default:
			line("  %s: %s", o.name, d.reading(o, from, false, ""))
		}
	}
	return b.String()
}

// answer is true, false or nothing, the first with chance p.
func (d *drawn) answer(p float64) string {
	if d.chance(p) {
		return "true"
	}
	return pick(d, "false", "null")
}

// reading draws one reading, as a map if it must be or has a place.
func (d *drawn) reading(o drawnObservable, from *drawnSheet, object bool, where string) string {
	more := ""
	if where != "" {
		more += ", where: " + where
	}
	if len(o.tests) > 1 && d.chance(0.3) {
		more += ", test: " + o.tests[1]
	}
	if where != "" && d.chance(0.15) {
		return "{inconclusive: drawn" + more + "}"
	}
	switch o.kind {
	case "quantity":
		return d.quantityReading(o, from, object, more)
	case "choice":
		return d.whole(object, more, "choice", d.seen(o, from))
	}
	seen := some(d, o.words, 1+d.IntN(2))
	if from.choices[o.name] != nil && d.chance(0.8) {
		seen = nil
		for _, w := range o.words {
			if word := from.choices[o.name][w]; word != "" && d.chance(map[string]float64{"always": 1, "usually": 0.8, "often": 0.5, "sometimes": 0.2}[word]) {
				seen = append(seen, w)
			}
		}
	}
	if len(seen) > 0 && d.chance(0.3) {
		return d.whole(object, more, "features", quoted(seen))
	}
	return fmt.Sprintf("{features: %s, looked_for: %s%s}", quoted(seen), quoted(some(d, o.words, 1+d.IntN(4))), more)
}

// whole writes a reading by itself where it can.
func (d *drawn) whole(object bool, more, key, value string) string {
	if object || more != "" {
		return fmt.Sprintf("{%s: %s%s}", key, value, more)
	}
	return value
}

func (d *drawn) seen(o drawnObservable, from *drawnSheet) string {
	if d.chance(0.15) {
		return pick(d, o.words...)
	}
	for _, word := range []string{"always", "usually", "often", "sometimes"} {
		for _, w := range o.words {
			if from.choices[o.name][w] == word && d.chance(0.8) {
				if covering := map[string]string{"uniaxial": "two rays", "biaxial": "two rays", "red": "reddish", "pink": "reddish"}[w]; covering != "" && d.chance(0.25) {
					return covering
				}
				return w
			}
		}
	}
	return pick(d, o.words...)
}

func (d *drawn) quantityReading(o drawnObservable, from *drawnSheet, object bool, more string) string {
	property := o.name
	if o.name == "size_density" {
		property = "specific_gravity"
	}
	r, ok := from.ranges[property]
	if !ok {
		at := d.between(o.span[0], o.span[1])
		r = [2]float64{at, at}
	}
	u := o.u
	if d.chance(0.3) {
		u *= d.between(0.3, 5)
		more += ", uncertainty: " + figure(u)
	}
	clamp := func(x float64) float64 { return math.Max(o.span[0], math.Min(o.span[1], x)) }
	x := clamp(d.between(r[0], r[1]) + u*d.NormFloat64()*pick(d, 1.0, 1, 1, 3))
	switch {
	case o.name == "ri" && d.chance(0.5):
		b := from.ranges["birefringence"]
		high := clamp(x + d.between(b[0], b[1])*pick(d, 1, 1, 0.5) + u*math.Abs(d.NormFloat64())*0.5)
		return d.whole(object, more, "value", fmt.Sprintf("[%s, %s]", figure(x), figure(high)))
	case d.chance(0.12):
		key := pick(d, "above", "below")
		if key == "above" {
			x = math.Min(x, o.span[0]+0.9*(o.span[1]-o.span[0]))
		} else {
			x = math.Max(x, o.span[0]+0.1*(o.span[1]-o.span[0]))
		}
		return fmt.Sprintf("{%s: %s%s}", key, figure(x), more)
	case d.chance(0.1):
		return fmt.Sprintf("{between: [%s, %s]%s}", figure(x-u*d.between(0.5, 9)), figure(x+u*d.between(0.5, 9)), more)
	}
	return d.whole(object, more, "value", figure(x))
}
