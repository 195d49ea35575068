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
	text      strings.Builder
	observed  []drawnObservable
	leaves    []string
	groups    []string
	sheets    map[string]*drawnSheet // by leaf
	counter   map[string]string      // by node: how common its own sheet says it is
	words     []string               // that can be claimed
	hasFaulty bool
}

// drawnObservable is what the generator knows of one observable.
type drawnObservable struct {
	name, kind, family string
	span               [2]float64
	u                  float64
	words              []string
	tests              []string
}

// drawnSheet is what a leaf's sheet gives, inherited or its own.
type drawnSheet struct {
	ranges  map[string][2]float64
	choices map[string]map[string]string
}

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
	d := &drawn{Rand: rand.New(rand.NewPCG(seed, 8)), sheets: map[string]*drawnSheet{}, counter: map[string]string{}}
	d.line(0, "format: 1")
	d.tests()
	d.materials(leaves)
	d.policy()
	return d
}

func (d *drawn) policy() {
	d.line(0, "policy:")
	d.line(1, "unlisted: %s", pick(d, "0.003", "0.003", "0.02", "0.11"))
	d.line(1, "misfit: %s", pick(d, "4", "4", "3", "2.5"))
	d.line(1, "rival: %s", pick(d, "10", "10", "6.1", "25"))
	d.line(1, "further_weight: %s", pick(d, "0.25", "0.25", "0.5", "0", "1"))
	d.line(1, "missed_turn: %s", pick(d, "0.1", "0.3"))
	d.line(1, "frequency: %s", pick(d, "{always: 0.98, usually: 0.85, often: 0.5, sometimes: 0.2, rarely: 0.03, never: 0}",
		"{always: 0.9, usually: 0.7, often: 0.55, sometimes: 0.25, rarely: 0.05, never: 0}"))
	d.line(1, "strength: {weak: 3, moderate: 30, moderately strong: 300, strong: 3000}")
	d.line(1, "scale: [{from: 1, says: weak}, {from: 10, says: moderate}, {from: 100, says: strong}]")
	d.line(1, "seen_at_counter: {everyday: 100, common: 30, occasional: 10, rare: 1}")
	if d.chance(0.5) {
		var over []string
		for _, id := range some(d, slices.Concat(d.groups, d.leaves), 1+d.IntN(3)) {
			over = append(over, id+": "+figure(math.Exp(d.between(-2, 5))))
		}
		d.line(1, "priors: {%s}", strings.Join(over, ", "))
	}
	d.line(1, "required:")
	share, doubt := pick(d, 0.6, 0.8, 0.9, 0.95), pick(d, 0.15, 0.3)
	for _, stake := range []int{0, 1000, 20000} {
		d.line(2, "- {stake: %d, share: %g, doubt_limit: %g}", stake, share, doubt)
		share, doubt = 1-(1-share)*0.6, doubt*0.4
	}
	d.claims()
}

// claims are words for a node, with an origin or a colour.
func (d *drawn) claims() {
	d.line(1, "claims:")
	for i, node := range some(d, slices.Concat(d.groups, d.leaves), 4) {
		word := fmt.Sprintf("word %d", i)
		d.words = append(d.words, word)
		colour := ""
		if d.chance(0.6) {
			colour = ", colour: " + quoted(some(d, []string{"red", "pink", "green", "reddish"}, 1+d.IntN(2)))
		}
		d.line(2, "%s: {node: %s%s}", word, node, colour)
	}
	d.line(2, "natural red: {node: g0, origin: natural, colour: [red]}") // g0 holds a natural leaf
	d.words = append(d.words, "natural red", "Natural  Red", "nobody knows")
	d.words = append(d.words, d.leaves...)
	d.words = append(d.words, d.groups...)
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
	d.choice("fire", "dispersion", "weak, strong")
	d.test("lamp")
	d.choice("uv", "luminescence", "inert, blue, yellow, green")
	d.further("colour", 0)
	d.test("loupe")
	d.features("inclusions", "magnified", "needle, bubble, crystal, swirl")
	d.choice("doubling", "double refraction", "plain, slight, strong")
}

func (d *drawn) test(id string) {
	d.line(1, "- test: %s", id)
	d.line(2, "name: %s", id)
	d.line(2, "harm: none")
	d.line(2, "source: drawn")
	if n, ok := drawnNeeds[id]; ok {
		d.line(2, "needs: [{if: %q, says: drawn.}]", n.need)
	}
	d.line(2, "yields:")
	d.observed = append(d.observed, drawnObservable{tests: []string{id}})
}

// now is the test that is being written; observe completes an entry for it.
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
	if property != "" {
		property = "property: " + property + ", "
	}
	u *= d.between(0.5, 3)
	resolution := ""
	if d.chance(0.7) {
		resolution = ", resolution: " + figure(u*d.between(0.3, 3))
	}
	d.line(3, "%s: {kind: quantity, %sfamily: %s, unit: \"1\", span: [%g, %g], uncertainty: %s%s, blunder: %s}", name, property, family, low, high,
		figure(u), resolution, figure(blunder))
	d.observe(drawnObservable{name: name, kind: "quantity", family: family, span: [2]float64{low, high}, u: u})
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

// choice reads words, "a>b+c" for one that covers others.
func (d *drawn) choice(name, family, words string) {
	o := drawnObservable{name: name, kind: "choice", family: family}
	var entries []string
	for _, w := range strings.Split(words, ", ") {
		word, covers, _ := strings.Cut(w, ">")
		var parts []string
		if covers != "" {
			parts = append(parts, "covers: "+quoted(strings.Split(covers, "+")))
		}
		if d.chance(0.4) {
			parts = append(parts, "blunder: "+figure(d.between(0.005, 0.2)))
		}
		entries = append(entries, fmt.Sprintf("%s: {%s}", word, strings.Join(parts, ", ")))
		o.words = append(o.words, word)
	}
	d.line(3, "%s: {kind: choice, family: %s, blunder: %s, choices: {%s}}", name, family, figure(d.between(0.005, 0.1)), strings.Join(entries, ", "))
	d.observe(o)
}

func (d *drawn) features(name, family, words string) {
	o := drawnObservable{name: name, kind: "features", family: family, words: strings.Split(words, ", ")}
	var entries []string
	for _, w := range o.words {
		entries = append(entries, fmt.Sprintf("%s: {background: %s}", w, figure(d.between(0.02, 0.4))))
	}
	d.line(3, "%s: {kind: features, family: %s, blunder: %s, features: {%s}}", name, family, figure(d.between(0.005, 0.1)), strings.Join(entries, ", "))
	d.observe(o)
}
