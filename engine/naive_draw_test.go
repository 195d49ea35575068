package engine_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
)

// drawn is a random ruleset as text, and what its cases are drawn from.
type drawn struct {
	*rand.Rand
	text     strings.Builder
	observed []drawnObservable
	leaves   []string
	groups   []string
	sheets   map[string]*drawnSheet // by leaf
	above    map[string]string      // by node: its group
	words    []string               // that can be claimed
	wordsFor map[string][]string    // by node
	misfit   float64
	aside    *drawn // draws relations, so that all else is drawn as it is without them; nil: there are none
}

// drawnObservable is what the generator knows of one observable.
type drawnObservable struct {
	name, kind, family string
	span               [2]float64
	u                  float64
	words              []string
	strengths          []string
	also               map[string]string // other spellings
	tests              []string
	figures            bool // its uncertainty is reckoned from the instrument's figures
}

// drawnSheet is what a leaf's sheet gives, inherited or its own.
type drawnSheet struct {
	ranges  map[string]drawnRange
	choices map[string]map[string]string
}

type drawnRange struct{ low, high, tolerance float64 }

func (d *drawn) chance(p float64) bool          { return d.Float64() < p }
func (d *drawn) between(lo, hi float64) float64 { return lo + (hi-lo)*d.Float64() }
func (d *drawn) line(indent int, format string, args ...any) {
	d.text.WriteString(strings.Repeat("  ", indent) + fmt.Sprintf(format, args...) + "\n")
}
func pick[T any](d *drawn, list ...T) T { return list[d.IntN(len(list))] }

// some picks n of a list, in its order.
func some[T any](d *drawn, list []T, n int) []T {
	places := d.Perm(len(list))[:min(n, len(list))]
	slices.Sort(places)
	var out []T
	for _, i := range places {
		out = append(out, list[i])
	}
	return out
}

// figure writes a number with seven digits behind the point, so that hardly any lies on a threshold.
func figure(x float64) string { return strconv.FormatFloat(x, 'f', 7, 64) }

// rounded is the number that figure writes.
func rounded(x float64) float64 {
	r, err := strconv.ParseFloat(figure(x), 64)
	if err != nil {
		panic(err)
	}
	return r
}

func quoted(words []string) string {
	var out []string
	for _, w := range words {
		out = append(out, strconv.Quote(w))
	}
	return "[" + strings.Join(out, ", ") + "]"
}

// drawRuleset writes one random ruleset: a policy, tests of every kind of observable, a tree, rules.
func drawRuleset(seed uint64, leaves int) *drawn {
	d := drawSheets(seed, leaves)
	d.rules()
	return d
}

// drawSheets is the same without rules.
func drawSheets(seed uint64, leaves int) *drawn {
	d := &drawn{Rand: rand.New(rand.NewPCG(seed, 8)), sheets: map[string]*drawnSheet{}, above: map[string]string{},
		wordsFor: map[string][]string{}, misfit: 4}
	d.misfit = pick(d, 4.0, 4, 3, 2.5)
	if seed%3 != 0 {
		d.aside = &drawn{Rand: rand.New(rand.NewPCG(seed, 9))}
	}
	d.line(0, "format: 1")
	d.tests()
	d.materials(leaves)
	d.policy()
	return d
}

func (d *drawn) policy() {
	d.line(0, "policy:")
	d.line(1, "unlisted: %s", pick(d, "0.003", "0.003", "0.02", "0.11"))
	d.line(1, "misfit: %g", d.misfit)
	d.line(1, "rival: %s", pick(d, "10", "10", "6.1", "25", "110"))
	d.line(1, "further_weight: %s", pick(d, "0.25", "0.25", "0.5", "0", "1"))
	d.line(1, "missed_turn: %s", pick(d, "0.1", "0.3"))
	d.line(1, "frequency: %s", pick(d, "{always: 0.98, usually: 0.85, often: 0.5, sometimes: 0.2, rarely: 0.03, "+
		"never: 0}",
		"{always: 0.9, usually: 0.7, often: 0.55, sometimes: 0.25, rarely: 0.05, never: 0}"))
	d.line(1, "strength: {weak: 3, moderate: 30, moderately strong: 300, strong: 3000}")
	d.line(1, "scale: [{from: 1, says: weak}, {from: 10, says: moderate}, {from: 100, says: strong}]")
	d.line(1, "seen_at_counter: {everyday: 100, common: 30, occasional: 10, rare: 1}")
	if d.chance(0.7) {
		var over []string
		for i, id := range some(d, slices.Concat(d.leaves, d.groups), 1+d.IntN(4)) {
			prior := d.between(-3, 9)
			if i == 0 && d.chance(0.3) {
				prior = d.between(9, 13) // what this counter sees, and hardly anything else
			}
			over = append(over, id+": "+figure(math.Exp(prior)))
		}
		d.line(1, "priors: {%s}", strings.Join(over, ", "))
	}
	d.line(1, "required:")
	share, doubt := pick(d, 0.6, 0.8, 0.9, 0.95), pick(d, 0.15, 0.3)
	for _, stake := range []int{0, 1000, 20000} {
		d.line(2, "- {stake: %d, share: %g, doubt_limit: %g}", stake, share, doubt)
		share, doubt = 1-(1-share)*0.6, doubt*0.4
	}
	d.instruments()
	d.claims()
}

// instruments are the house's own: one of a test that has no other, two of another test, one with figures for what its
// test reckons.
func (d *drawn) instruments() {
	d.line(1, "instruments:")
	d.line(2, "- {instrument: refractometer-a, test: refractometer, observable: ri, uncertainty: %s}",
		figure(d.between(0.0005, 0.003)))
	d.line(2, "- {instrument: refractometer-b, test: refractometer, blunder: %s}", figure(d.between(0.01, 0.1)))
	if d.chance(0.6) {
		d.line(2, "- {instrument: lamp-a, test: lamp, blunder: %s}", figure(d.between(0.01, 0.1)))
	}
	if d.chance(0.7) {
		more := pick(d, "", ", uncertainty: 0.0271331")
		if slices.ContainsFunc(d.observed, func(o drawnObservable) bool {
			return o.name == "specific_gravity" &&
				o.figures
		}) {
			more = pick(d, more, ", repeats_to_ct: 0.0031117", ", repeats_to_ct: 0.0011391, blunder: 0.0312211")
		}
		d.line(2, "- {instrument: balance-a, test: balance%s}", more)
	}
}

// claims are words for a node, with an origin or a colour.
func (d *drawn) claims() {
	d.line(1, "claims:")
	for i, node := range some(d, slices.Concat(d.groups, d.leaves), 4) {
		word := fmt.Sprintf("word %d", i)
		d.words, d.wordsFor[node] = append(d.words, word), append(d.wordsFor[node], word)
		colour := ""
		if d.chance(0.6) {
			colour = ", colour: " + quoted(some(d, []string{"red", "pink", "green", "reddish"}, 1+d.IntN(2)))
		}
		d.line(2, "%s: {node: %s%s}", word, node, colour)
	}
	d.line(2, "natural red: {node: g0, origin: natural, colour: [red]}") // g0 holds a natural leaf
	d.line(2, "natural one: {node: g0, origin: natural}")
	d.words = append(d.words, "natural red", "Natural  Red", "natural one", "nobody knows", "Trade Name of m1")
	d.words = append(d.words, d.leaves...)
	d.words = append(d.words, d.groups...)
}

// drawnNeeds is what drawn tests need, as their sheets write it.
var drawnNeeds = map[string]string{
	"refractometer": "not stone.coated", "balance": "not stone.mounted", "calipers": "stone.setting != 'closed back'",
	"probe": "not stone.wet", "loupe": "stone.carat > 0.9",
}

// tests declare ten observables. Several tests give two families, several give one observable twice over, and some
// observables share a property.
func (d *drawn) tests() {
	d.line(0, "tests:")
	d.test("refractometer")
	d.quantity("ri", "", "refraction", 1.3, 3, 0.001, d.between(0.005, 0.05))
	d.quantity("birefringence", "", "double refraction", 0, 0.35, 0.0015, d.between(0.005, 0.05))
	d.test("spectrometer")
	d.further("ri", 0.0005)
	d.test("balance")
	d.quantity("specific_gravity", "", "density", 1, 8, 0.02, d.between(0.005, 0.05))
	d.test("calipers")
	d.quantity("size_density", "specific_gravity", "density", 0.5, 9, 0.1, d.between(0.02, 0.1))
	d.test("polariscope")
	d.choice("optic_character", "double refraction", "isotropic, uniaxial, biaxial, two rays>uniaxial+biaxial")
	d.test("probe")
	d.choice("thermal", "thermal", "high, low, unsteady")
	d.test("eye")
	d.choice("colour", "absorption", "red, pink, green, none, reddish>red+pink")
	d.choice("fire", "dispersion", "weak~feeble, strong")
	d.test("lamp")
	d.choice("uv", "luminescence", "inert, blue, yellow, green")
	d.further("colour", 0)
	d.test("loupe")
	d.features("inclusions", "magnified", "needle~rod, bubble, crystal, swirl")
	d.features("spectrum", "absorption", "blue band, iron bands, nothing, red line, violet line~edge, wide band")
	d.choice("doubling", "double refraction", "plain, slight, strong")
}

func (d *drawn) test(id string) {
	d.line(1, "- test: %s", id)
	d.line(2, "name: %s", id)
	d.line(2, "harm: none")
	d.line(2, "source: drawn")
	if need, ok := drawnNeeds[id]; ok {
		d.line(2, "needs: [{if: %q, says: what %s needs%s}]", need, id, pick(d, "", ", spoils: true"))
	}
	if id == "eye" || id == "probe" && d.chance(0.2) {
		d.line(2, "by_eye: %t", d.chance(0.6))
	}
	d.line(2, "yields:")
	d.observed = append(d.observed, drawnObservable{tests: []string{id}})
}

// observe completes an entry for the test that is being written.
func (d *drawn) observe(o drawnObservable) {
	last := &d.observed[len(d.observed)-1]
	o.tests = last.tests
	if last.name != "" {
		d.observed = append(d.observed, o)
	} else {
		*last = o
	}
}

func (d *drawn) quantity(name, property, family string, low, high, u, blunder float64) {
	o := drawnObservable{name: name, kind: "quantity", family: family, span: [2]float64{low, high}}
	if property != "" {
		property = "property: " + property + ", "
	}
	o.u = rounded(u * d.between(0.5, 3))
	more := ""
	if d.chance(0.7) || name == "specific_gravity" {
		more = ", resolution: " + figure(o.u*d.between(0.3, 3))
	}
	uncertainty := figure(o.u)
	if o.figures = name == "specific_gravity" && d.chance(0.5); o.figures {
		uncertainty = `"value * (value - 1) / stone.carat * repeats_to_ct"`
		more += ", otherwise: " + figure(o.u) + ", figures: " + pick(d, "{repeats_to_ct: }",
			"{repeats_to_ct: 0.0023111}")
	}
	if name == "size_density" && d.chance(0.8) {
		by := "stone.carat / (stone.length_mm * stone.width_mm * stone.depth_mm)"
		more += fmt.Sprintf(`, derived: [{if: "stone.cut == 'round'", is: "300 * %s", relative: 0.05, says: drawn., source: drawn}, {is: "280 * %s", relative: 0.09, says: drawn., source: drawn}]`, by, by)
	}
	d.line(3, "%s: {kind: quantity, %sfamily: %s, unit: \"1\", span: [%g, %g], uncertainty: %s%s, blunder: %s}", name,
		property, family, low, high, uncertainty, more, figure(blunder))
	d.observe(o)
}

// further gives an observable by another test, with its own blunder rate.
func (d *drawn) further(name string, u float64) {
	more := ""
	if u > 0 {
		more = "uncertainty: " + figure(u) + ", "
	}
	d.line(3, "%s: {%sblunder: %s}", name, more, figure(d.between(0.002, 0.1)))
	i := slices.IndexFunc(d.observed, func(o drawnObservable) bool { return o.name == name })
	last := d.observed[len(d.observed)-1]
	d.observed[i].tests = append(slices.Clone(d.observed[i].tests), last.tests...)
	if last.name == "" {
		d.observed = d.observed[:len(d.observed)-1]
	}
}

// spelling reads "a~b" for a word that is also spelt b.
func (o *drawnObservable) spelling(w string) (word string, parts []string) {
	word, also, _ := strings.Cut(w, "~")
	if o.words = append(o.words, word); also != "" {
		o.also = map[string]string{word: also}
		parts = append(parts, "also: ["+also+"]")
	}
	return word, parts
}

// choice reads words, "a>b+c" for one that covers others.
func (d *drawn) choice(name, family, words string) {
	o := drawnObservable{name: name, kind: "choice", family: family}
	var entries []string
	for _, w := range strings.Split(words, ", ") {
		w, covers, _ := strings.Cut(w, ">")
		word, parts := o.spelling(w)
		if covers != "" {
			parts = append(parts, "covers: "+quoted(strings.Split(covers, "+")))
		}
		if d.chance(0.4) {
			parts = append(parts, "blunder: "+figure(d.between(0.005, 0.2)))
		}
		if near := map[string]string{"colour red": "pink", "uv blue": "yellow, green"}[name+" "+word]; near != "" {
			parts = append(parts, "neighbours: ["+near+"]")
		}
		entries = append(entries, fmt.Sprintf("%s: {%s}", word, strings.Join(parts, ", ")))
	}
	more := ""
	if strings.Contains(strings.Join(entries, ""), "neighbours") {
		more = "neighbour: " + figure(d.between(0.02, 0.4)) + ", "
	}
	d.line(3, "%s: {kind: choice, family: %s, blunder: %s, %schoices: {%s}}", name, family,
		figure(d.between(0.005, 0.1)), more, strings.Join(entries, ", "))
	d.observe(o)
}

// drawnPlaces are where the features of the drawn spectrum lie.
var drawnPlaces = map[string]string{"blue band": "450", "iron bands": "[450, 460, 470]", "violet line": "455",
	"red line": "690", "wide band": "560, within: 20"}

func (d *drawn) features(name, family, words string) {
	o := drawnObservable{name: name, kind: "features", family: family}
	var entries []string
	for _, w := range strings.Split(words, ", ") {
		word, parts := o.spelling(w)
		if at := drawnPlaces[word]; name == "spectrum" && at != "" {
			parts = append(parts, "at: "+at)
		}
		entries = append(entries, fmt.Sprintf("%s: {%s}", word, strings.Join(append(parts,
			"background: "+figure(d.between(0.02, 0.4))), ", ")))
	}
	more := ""
	switch name {
	case "spectrum":
		more, o.strengths = "unit: nm, within: 5, strengths: [faint, distinct, strong], ", []string{"faint", "distinct",
			"strong"}
	case "inclusions":
		if d.chance(0.5) {
			more = "neighbour: " + figure(d.between(0.02, 0.4)) + ", "
			entries[1] = strings.Replace(entries[1], "}", ", neighbours: [crystal, swirl]}", 1)
		}
	}
	d.line(3, "%s: {kind: features, family: %s, blunder: %s, %sfeatures: {%s}}", name, family,
		figure(d.between(0.005, 0.1)), more, strings.Join(entries, ", "))
	d.observe(o)
}
