package engine_test

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"strings"
)

// naiveCase is a case as read from its text.
type naiveCase struct {
	claim        string
	stake        *float64
	stone        map[string]raw
	readings     []*naiveReading // by name of the observable, then place
	correlations []raw
}

// naiveReading is what was read of an observable in one place, repeats combined.
type naiveReading struct {
	o               *naiveObservable
	where           string
	form            string // value, rays, bounds, choice, features or inconclusive
	value, u        float64
	high, highU     float64 // of two rays
	lo, hi          float64 // of bounds, as written
	openLo, openHi  bool    // above and below leave the bound itself out
	noise           float64 // behind bounds
	choice          string
	seen, lookedFor set
	read            []naiveLine
	tests           set
	blunder         float64
	spoilt          string // the need that the stone does not meet
	derived         bool
	reckoned        string // how its uncertainty came about, where the test's sheet gives an expression
}

// usable: neither inconclusive nor spoilt.
func (r *naiveReading) usable() bool { return r.form != "inconclusive" && r.spoilt == "" }

func (r *naiveReading) name() string {
	if r.where == "" {
		return r.o.name
	}
	return r.o.name + " (" + r.where + ")"
}

// open lists the plain choices that a choice leaves open.
func (r *naiveReading) open() set { return setOf(plainOf(r.o.covers, r.choice)...) }

// readCase reads a case that the reader accepts.
func (n *naive) readCase(text string) *naiveCase {
	root := readRaw(text)
	c := &naiveCase{claim: plainly(root.at("claim").text("")), stone: map[string]raw{},
		correlations: root.at("correlations").list()}
	if x, ok := root.at("stake").number(); ok {
		c.stake = &x
	}
	given := map[string]raw{}
	for _, key := range root.at("readings").keys() {
		given[key] = root.at("readings").at(key)
	}
	// "`colour` and `transparency` are observables, accepted under `stone` too"
	for _, key := range root.at("stone").keys() {
		if v := root.at("stone").at(key); key == "colour" || key == "transparency" {
			given[key] = v
		} else {
			c.stone["stone."+key] = v
		}
	}
	for _, name := range slices.Sorted(maps.Keys(given)) {
		c.readings = append(c.readings, n.read(c, n.observables[name], given[name])...)
	}
	n.derive(c)
	slices.SortStableFunc(c.readings, func(a, b *naiveReading) int {
		return cmp.Or(strings.Compare(a.o.name, b.o.name), strings.Compare(a.where, b.where))
	})
	return c
}

// read: "A list of objects is a repeated reading ... Readings with unlike `where` are never combined".
func (n *naive) read(c *naiveCase, o *naiveObservable, given raw) (out []*naiveReading) {
	items := []raw{given}
	if l := given.list(); len(l) > 0 && l[0].isMap() {
		items = l
	}
	places := map[string][]*naiveReading{}
	var spoilt []*naiveReading
	for _, item := range items {
		if r := n.readOne(c, o, item); r.spoilt != "" {
			spoilt = append(spoilt, r)
		} else {
			places[r.where] = append(places[r.where], r)
		}
	}
	for _, where := range slices.Sorted(maps.Keys(places)) {
		out = append(out, combined(places[where]))
	}
	return append(out, spoilt...)
}

func (n *naive) readOne(c *naiveCase, o *naiveObservable, item raw) *naiveReading {
	r := &naiveReading{o: o}
	given := item
	if item.isMap() {
		r.where = plainly(item.at("where").text(""))
		for _, key := range []string{"value", "choice", "features", "looked_for"} {
			if item.has(key) {
				given = item.at(key)
				break
			}
		}
	}
	switch {
	case item.has("inconclusive"):
		r.form = "inconclusive"
	case o.kind == "choice":
		r.form, r.choice = "choice", o.spelt(plainly(given.text("")))
	case o.kind == "features":
		r.form, r.seen, r.lookedFor = "features", set{}, set{}
		if !item.isMap() || item.has("features") || item.has("value") {
			r.lines(given.texts())
		}
		for _, f := range append(item.at("looked_for").texts(), slices.Collect(maps.Keys(r.seen))...) {
			r.lookedFor[o.spelt(plainly(f))] = true
		}
		r.settle()
	case item.isMap() && !item.has("value"):
		r.form, r.lo, r.hi = "bounds", item.at("above").or(math.Inf(-1)), item.at("below").or(math.Inf(1))
		r.openLo, r.openHi = item.has("above"), item.has("below")
		if item.has("between") {
			r.lo, r.hi = item.at("between").pair()[0], item.at("between").pair()[1]
		}
	case len(given.list()) == 2:
		r.form, r.value, r.high = "rays", given.pair()[0], given.pair()[1]
	default:
		r.form, r.value = "value", given.or(0)
	}
	n.source(c, r, item)
	return r
}

// spelt is the word as the test's sheet has it.
func (o *naiveObservable) spelt(word string) string { return cmp.Or(o.also[word], word) }

// source: "optionally `test` (else the one whose sheet declares the observable), `instrument`". "Where no uncertainty
// is given, the test's (or the house's instrument's) applies." An instrument that nobody names is the house's if it has
// one of that test.
func (n *naive) source(c *naiveCase, r *naiveReading, item raw) {
	var instrument raw
	test := item.at("test").text(r.o.test)
	var house []naiveInstrument
	for _, in := range n.instruments {
		if in.id == item.at("instrument").text("") {
			test, instrument = in.test, in.figures
		}
	}
	for _, in := range n.instruments {
		if in.test == test {
			house = append(house, in)
		}
	}
	if instrument.none() && len(house) == 1 {
		instrument = house[0].figures
	}
	if only := instrument.at("observable").text(r.o.name); only != r.o.name {
		instrument = raw{}
	}
	y := n.tests[test].yields[r.o.name]
	r.tests, r.blunder = setOf(test), y.blunder
	if own, ok := y.outcome[r.choice]; ok && r.form == "choice" {
		r.blunder = own
	}
	r.blunder = instrument.at("blunder").or(r.blunder)
	own := func(value *float64) float64 {
		return item.at("uncertainty").or(instrument.at("uncertainty").or(n.expected(c, y, value, instrument)))
	}
	r.noise = own(nil)
	if r.u, r.highU = r.noise, r.noise; r.form == "value" || r.form == "rays" {
		r.u, r.highU = own(&r.value), own(&r.high)
		r.noise = r.u
	}
	if _, plain := y.uncertainty.number(); !plain && !item.has("uncertainty") && !instrument.has("uncertainty") &&
		r.form == "value" {
		r.reckoned = "otherwise"
		if r.u != y.otherwise {
			r.reckoned = "from the stone"
		}
	}
	for _, need := range n.tests[test].needs {
		// "a reading, by its own test and before repeats are combined, for which such a need fails is set aside"
		if need.at("spoils").truth() && r.usable() && n.ofStone(c).is(n.parse(need.at("if").text(""))) == isFailing {
			r.spoilt = need.at("says").text("")
		}
	}
}

// expected: "`uncertainty:` as an expression over `stone`, `value` (the reading) and the instrument's own figures, for
// readings that give none; where one of them is absent, the entry's `otherwise:`." The entry may list what a figure is
// where the instrument does not say.
func (n *naive) expected(c *naiveCase, y *naiveYield, value *float64, instrument raw) float64 {
	if y.uncertainty.none() {
		return 0
	}
	if u, ok := y.uncertainty.number(); ok {
		return u
	}
	w := n.ofStone(c)
	stone := w.of
	w.of = func(name string) meaning {
		for _, figures := range []raw{instrument, y.figures} {
			if x, ok := figures.at(name).number(); ok {
				return meaning{here: true, amounts: []amount{exactly(x)}}
			}
		}
		if name == "value" && value != nil {
			return meaning{here: true, amounts: []amount{exactly(*value)}}
		}
		return stone(name)
	}
	if u, ok := w.reckoned(n.parse(y.uncertainty.text(""))); ok {
		return u
	}
	return y.otherwise
}

// reckoned is the value of an expression whose names are all there.
func (w *wording) reckoned(t tree) (x float64, ok bool) {
	err := w.combinations(t, t, func(pick map[string]amount) error {
		a, err := w.amount(t, pick)
		x, ok = a.value, err == nil
		return err
	})
	return x, ok && err == nil
}

// ofStone reads what is known of the stone alone.
func (n *naive) ofStone(c *naiveCase) *wording {
	return &wording{near: func(float64, float64) {}, met: map[string]bool{}, of: func(name string) meaning {
		v, ok := c.stone[name]
		if !ok || v.none() { // "a condition on an absent one is undecided"
			return meaning{}
		}
		if x, ok := v.number(); ok {
			return meaning{here: true, amounts: []amount{exactly(x)}}
		}
		if is, ok := v.v.(bool); ok {
			return meaning{here: true, truth: verityOf(is)}
		}
		return meaning{here: true, text: plainly(v.text(""))}
	}}
}

// derive adds what a test's sheet computes from the stone where nobody read it: of several the first whose condition
// holds.
func (n *naive) derive(c *naiveCase) {
	w := n.ofStone(c)
	for _, id := range slices.Sorted(maps.Keys(n.tests)) {
		test := n.tests[id]
		for _, name := range slices.Sorted(maps.Keys(test.yields)) {
			y, o := test.yields[name], n.observables[name]
			for _, d := range y.derived {
				if slices.ContainsFunc(c.readings, func(r *naiveReading) bool { return r.o == o }) {
					break
				}
				if d.has("if") && w.is(n.parse(d.at("if").text(""))) != isHolding {
					continue
				}
				x, ok := w.reckoned(n.parse(d.at("is").text("")))
				if !ok || x < o.span[0] || x > o.span[1] {
					continue
				}
				u := d.at("relative").or(0) * math.Abs(x)
				r := &naiveReading{o: o, form: "value", derived: true}
				n.source(c, r, raw{})
				r.value, r.u, r.noise, r.blunder = x, u, u, y.blunder
				c.readings = append(c.readings, r)
			}
		}
	}
}
