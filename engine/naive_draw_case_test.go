package engine_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// drawCase writes a random case: readings of one material, some of them mistaken, in every form that a case can have.
func (d *drawn) drawCase(id string) string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("format: 1")
	line("case: %s", id)
	is := pick(d, d.leaves...)
	switch { // often of what the stone is
	case d.chance(0.4):
		line("claim: %q", pick(d, append([]string{is, "name of " + is, d.above[is], d.above[is]},
			slices.Concat(d.wordsFor[is], d.wordsFor[d.above[is]])...)...))
	case d.chance(0.7):
		line("claim: %q", pick(d, d.words...))
	}
	if d.chance(0.5) {
		line("stake: %g", pick(d, 10.0, 1000, 5000, 30000))
	}
	truth := d.sheets[is]
	other := d.sheets[pick(d, d.leaves...)]
	much := pick(d, 0.1, 0.3, 0.5, 0.75)
	var readings []string
	typed := map[string]bool{} // read once, as one value
	for _, o := range d.observed {
		if !d.chance(much) {
			continue
		}
		from := truth
		if d.chance(0.12) {
			from = other
		}
		text := ""
		switch {
		case d.chance(0.05):
			text = "{inconclusive: drawn}"
		case d.chance(0.12):
			text = fmt.Sprintf("[%s, %s]", d.reading(o, from, true, "crown"),
				d.reading(o, pick(d, truth, other), true, "pavilion"))
		case d.chance(0.14):
			text = d.repeats(o, from, pick(d, from, from, other))
		default:
			text = d.reading(o, from, false, "")
			typed[o.name] = true
		}
		readings = append(readings, fmt.Sprintf("  %s: %s", o.name, text))
	}
	stone := []string{"mounted: " + d.answer(0.2), "wet: " + d.answer(0.2), "warm: " + d.answer(0.1),
		"coated: " + d.answer(0.25), "carat: " + pick(d, "1", "0.5", "1.37", "null")}
	if d.chance(0.3) {
		stone = append(stone, d.measures(truth)...)
	}
	stone = append(stone, pick(d, "cut: round", "cut: oval", "cut: null"),
		pick(d, "setting: closed back", "setting: bezel", "setting: null"))
	if !strings.Contains(strings.Join(readings, "\n"), "  colour:") && d.chance(0.2) {
		stone = append(stone, "colour: "+pick(d, "red", "pink", "green", "reddish"))
	}
	line("stone: {%s}", strings.Join(stone, ", "))
	if typed["specific_gravity"] && typed["size_density"] && d.chance(0.5) {
		line("correlations: [{of: [size_density, specific_gravity], r: %s}]", figure(d.between(-0.9, 0.9)))
	}
	line("readings:")
	for _, r := range readings {
		line("%s", r)
	}
	return b.String()
}

// measures are sizes from which a density follows that is the material's, or near it.
func (d *drawn) measures(from *drawnSheet) []string {
	density := 3.3
	if r, ok := from.ranges["specific_gravity"]; ok {
		density = d.between(r.low, r.high) * math.Exp(0.03*d.NormFloat64())
	}
	return []string{"length_mm: 6.5", "width_mm: 6.1", "depth_mm: " + figure(300*pick(d, 1, 0.5,
		1.37)/(6.5*6.1*density))}
}

// repeats draws two or three readings in one place, by one test or by two.
func (d *drawn) repeats(o drawnObservable, from, other *drawnSheet) string {
	second := o
	if len(o.tests) > 1 && d.chance(0.8) {
		second.tests = []string{o.tests[1], o.tests[1]}
	}
	list := []string{d.reading(o, from, true, ""), d.reading(second, other, true, "")}
	if d.chance(0.25) {
		list = append(list, d.reading(o, from, true, ""))
	}
	if d.chance(0.15) {
		list = append(list, "{inconclusive: drawn}")
	}
	return "[" + strings.Join(list, ", ") + "]"
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
	switch {
	case len(o.tests) > 1 && (o.tests[0] == o.tests[1] || d.chance(0.3)):
		more += ", test: " + o.tests[1]
	case o.tests[0] == "refractometer" && d.chance(0.3):
		more += ", instrument: " + pick(d, "refractometer-a", "refractometer-b")
	}
	if where != "" && d.chance(0.15) {
		return "{inconclusive: drawn" + more + "}"
	}
	switch o.kind {
	case "quantity":
		return d.quantityReading(o, from, object, more)
	case "choice":
		return d.whole(object, more, "choice", d.spelt(o, d.seen(o, from)))
	}
	seen := some(d, o.words, 1+d.IntN(2))
	if from.choices[o.name] != nil && d.chance(0.8) {
		seen = nil
		for _, w := range o.words {
			if word := from.choices[o.name][w]; word != "" &&
				d.chance(map[string]float64{"always": 1, "usually": 0.8, "often": 0.5, "sometimes": 0.2}[word]) {
				seen = append(seen, w)
			}
		}
	}
	for i, w := range seen {
		seen[i] = d.spelt(o, w)
	}
	if o.strengths != nil {
		seen = d.byPlace(o, seen)
	}
	if len(seen) > 0 && d.chance(0.3) {
		return d.whole(object, more, "features", quoted(seen))
	}
	return fmt.Sprintf("{features: %s, looked_for: %s%s}", quoted(seen), quoted(some(d, o.words, 1+d.IntN(4))), more)
}

// byPlace draws places in the stead of some features, or beside them, and strengths.
func (d *drawn) byPlace(o drawnObservable, seen []string) []string {
	if d.chance(0.5) {
		seen = some(d, []string{"446", "450 nm", "452", "453 nm", "457.5", "462", "473", "560 nm", "690"}, 1+d.IntN(3))
	} else if d.chance(0.3) {
		seen = append(seen, pick(d, "452", "455 nm", "688"))
	}
	for i := range seen {
		if d.chance(0.3) {
			seen[i] += " " + pick(d, o.strengths...)
		}
	}
	return seen
}

// spelt is a word, sometimes in another spelling.
func (d *drawn) spelt(o drawnObservable, word string) string {
	if also := o.also[word]; also != "" && d.chance(0.3) {
		return also
	}
	return word
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
				if covering := map[string]string{"uniaxial": "two rays", "biaxial": "two rays", "red": "reddish",
					"pink": "reddish"}[w]; covering != "" && d.chance(0.25) {
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
		r = drawnRange{low: at, high: at}
	}
	if ok && d.chance(0.08) {
		return d.atTheEdge(o, r, more)
	}
	u := o.u
	if d.chance(0.3) {
		u *= d.between(0.3, 5)
		more += ", uncertainty: " + figure(u)
	}
	clamp := func(x float64) float64 { return math.Max(o.span[0], math.Min(o.span[1], x)) }
	x := clamp(d.between(r.low, r.high) + u*d.NormFloat64()*pick(d, 1.0, 1, 1, 3))
	switch {
	case o.name == "ri" && d.chance(0.5):
		b := from.ranges["birefringence"]
		high := clamp(x + d.between(b.low, b.high)*pick(d, 1, 1, 0.5) + u*math.Abs(d.NormFloat64())*0.5)
		return d.whole(object, more, "value", fmt.Sprintf("[%s, %s]", figure(x), figure(high)))
	case d.chance(0.12):
		key := pick(d, "above", "below")
		if key == "above" {
			x = math.Min(x, o.span[0]+0.9*(o.span[1]-o.span[0]))
		} else {
			x = math.Max(x, o.span[0]+0.1*(o.span[1]-o.span[0]))
		}
		if d.chance(0.5) {
			x = pick(d, drawnCuts[o.name]...) // where conditions cut, so that the bound itself decides
		}
		return fmt.Sprintf("{%s: %s%s}", key, figure(x), more)
	case d.chance(0.1):
		return fmt.Sprintf("{between: [%s, %s]%s}", figure(x-u*d.between(0.5, 9)), figure(x+u*d.between(0.5, 9)), more)
	}
	return d.whole(object, more, "value", figure(x))
}

// atTheEdge draws a reading that lies as far outside a range as excludes nothing, to the last figure, or a little
// farther.
func (d *drawn) atTheEdge(o drawnObservable, r drawnRange, more string) string {
	u := rounded(o.u * d.between(0.5, 2))
	out := d.misfit*u + r.tolerance + pick(d, 0, 0, 1e-6)
	more += ", uncertainty: " + figure(u)
	at, key := r.high+out, pick(d, "value", "above")
	if d.chance(0.5) && r.low-out > o.span[0] {
		at, key = r.low-out, pick(d, "value", "below")
	}
	return fmt.Sprintf("{%s: %.17g%s}", key, math.Min(at, o.span[1]), more)
}
