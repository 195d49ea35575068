package engine_test

import (
	"slices"
	"strings"
)

// naive is the second implementation: the sentences of the arithmetic one by one, with maps and loops. It reads the
// text of a ruleset and of cases by itself, as the shapes of the files say, and shares no code with the knowledge base
// or the engine. It expects a ruleset that loads, as it checks nothing.
type naive struct {
	unlisted, misfit, rival, further, missed float64
	frequency, strength, counter, priors     map[string]float64
	required                                 []naiveRequired
	claims                                   map[string]*claimed
	instruments                              []naiveInstrument
	observables                              map[string]*naiveObservable
	tests                                    map[string]*naiveSheet
	nodes                                    []*naiveNode // groups and materials, by id
	leaves                                   []*naiveNode // materials and the others of groups, by id
	rules                                    []*naiveRule // by id
	parsed                                   map[string]tree
}

type naiveRequired struct{ stake, share, doubt float64 }

type naiveInstrument struct {
	id, test, observable string
	figures              raw
}

type naiveObservable struct {
	name, kind, family, test, property string
	span                               [2]float64
	resolution                         float64
	words                              []string // choices or features, sorted
	covers                             map[string][]string
	background                         map[string]float64
	also                               map[string]string // other spellings
	neighbours                         map[string]set
	neighbour                          float64 // how often what has some is called one of them
	at                                 map[string][]float64
	within                             map[string]float64
	strengths                          []string
}

// naiveSheet is a test's.
type naiveSheet struct {
	id     string
	byEye  bool // a mere impression
	needs  []raw
	yields map[string]*naiveYield
}

// naiveYield is what a test gives of an observable.
type naiveYield struct {
	uncertainty raw // a number, or an expression
	otherwise   float64
	figures     raw
	blunder     float64
	outcome     map[string]float64 // blunder rates of choices, where they differ
	derived     []raw
}

// readNaive reads a ruleset of one layer.
func readNaive(texts ...string) *naive {
	n := &naive{observables: map[string]*naiveObservable{}, tests: map[string]*naiveSheet{},
		claims: map[string]*claimed{}, parsed: map[string]tree{}}
	var files []raw
	for _, text := range texts {
		files = append(files, readRaw(text))
	}
	each := func(key string, do func(raw)) {
		for _, f := range files {
			for _, sheet := range f.at(key).list() {
				do(sheet)
			}
		}
	}
	each("policy", n.readPolicy)
	each("tests", n.declare)
	each("tests", n.readYields)
	var sheets []raw
	each("materials", func(m raw) { sheets = append(sheets, m) })
	n.readTree(sheets)
	each("rules", n.readRule)
	slices.SortFunc(n.rules, func(a, b *naiveRule) int { return strings.Compare(a.id, b.id) })
	for _, r := range n.rules {
		n.settle(r)
	}
	each("policy", n.readClaims)
	return n
}

func (n *naive) readPolicy(p raw) {
	n.unlisted, n.misfit, n.rival = p.at("unlisted").or(0.003), p.at("misfit").or(4), p.at("rival").or(10)
	n.further, n.missed = p.at("further_weight").or(0.25), p.at("missed_turn").or(0.1)
	n.frequency, n.strength, n.counter, n.priors = p.at("frequency").numbers(), p.at("strength").numbers(),
		p.at("seen_at_counter").numbers(), p.at("priors").numbers()
	for _, line := range p.at("required").list() {
		n.required = append(n.required, naiveRequired{line.at("stake").or(0), line.at("share").or(0),
			line.at("doubt_limit").or(0)})
	}
	for _, in := range p.at("instruments").list() {
		n.instruments = append(n.instruments, naiveInstrument{in.at("instrument").text(""), in.at("test").text(""),
			in.at("observable").text(""), in})
	}
}

// declare reads what a test sheet declares: "an entry with a family declares the observable; another test's entry has u
// and blunder only".
func (n *naive) declare(s raw) {
	test := &naiveSheet{id: s.at("test").text(""), byEye: s.at("by_eye").truth(), needs: s.at("needs").list(),
		yields: map[string]*naiveYield{}}
	n.tests[test.id] = test
	for _, name := range s.at("yields").keys() {
		y := s.at("yields").at(name)
		if !y.has("family") {
			continue
		}
		o := &naiveObservable{name: name, kind: y.at("kind").text(""), family: y.at("family").text(""), test: test.id,
			property: y.at("property").text(name), covers: map[string][]string{}, background: map[string]float64{},
			also: map[string]string{}, neighbours: map[string]set{}, neighbour: y.at("neighbour").or(0),
			at: map[string][]float64{}, within: map[string]float64{}, strengths: y.at("strengths").texts()}
		n.observables[name] = o
		given := &naiveYield{uncertainty: y.at("uncertainty"), otherwise: y.at("otherwise").or(0),
			figures: y.at("figures"), blunder: y.at("blunder").or(0), outcome: map[string]float64{},
			derived: y.at("derived").list()}
		test.yields[name] = given
		if o.kind == "quantity" {
			o.span = y.at("span").pair()
			o.resolution = y.at("resolution").or(given.uncertainty.or(given.otherwise))
			continue
		}
		words := y.at(map[string]string{"choice": "choices", "features": "features"}[o.kind])
		o.words = words.keys()
		if !words.isMap() {
			o.words = words.texts()
		}
		slices.Sort(o.words)
		for _, w := range o.words {
			entry := words.at(w)
			o.background[w] = entry.at("background").or(0.05)
			if entry.has("covers") {
				o.covers[w] = entry.at("covers").texts()
			}
			if entry.has("blunder") {
				given.outcome[w] = entry.at("blunder").or(0)
			}
			for _, spelling := range entry.at("also").texts() {
				o.also[spelling] = w
			}
			o.declareNear(w, entry, y.at("within").or(0))
		}
	}
}

func (n *naive) readYields(s raw) {
	test := n.tests[s.at("test").text("")]
	for _, name := range s.at("yields").keys() {
		y := s.at("yields").at(name)
		if y.has("family") {
			continue
		}
		own := n.tests[n.observables[name].test].yields[name]
		further := *own
		further.derived = nil
		if y.has("uncertainty") {
			further.uncertainty, further.otherwise, further.figures = y.at("uncertainty"), y.at("otherwise").or(0),
				y.at("figures")
		}
		if y.has("blunder") {
			further.blunder, further.outcome = y.at("blunder").or(0), nil
		}
		test.yields[name] = &further
	}
}
