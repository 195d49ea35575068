package engine_test

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"go.yaml.in/yaml/v4"
)

// naive is the second implementation: the sentences of the arithmetic one by one, with maps and loops. It reads the text of
// a ruleset and of cases by itself, as the shapes of the files say, and shares no code with the knowledge base or the
// engine. It expects a ruleset that loads, as it checks nothing.
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

type naiveNode struct {
	id, name     string
	told         string // by which id a verdict tells it: of others, the group's
	also         []string
	up           *naiveNode
	group, other bool
	nameable     bool
	origin       string // own or inherited
	grown        string // own
	counter      string // own
	ranges       map[string]*naiveRange
	words        map[string]map[string]string // how often each outcome is seen, by observable
	under        []int                        // the leaves at or below it
	level        int
	inVerdicts   raw
}

type naiveRange struct {
	low, high, tolerance float64
	typical              *[2]float64
	derived              bool // from another property
}

// raw is a value as it stands in a file.
type raw struct{ v any }

func readRaw(text string) raw {
	var v any
	if err := yaml.Unmarshal([]byte(text), &v); err != nil {
		panic(err)
	}
	return raw{v}
}

func (r raw) fields() map[string]any {
	m, _ := r.v.(map[string]any)
	return m
}
func (r raw) at(key string) raw   { return raw{r.fields()[key]} }
func (r raw) has(key string) bool { return r.fields()[key] != nil }
func (r raw) keys() []string      { return slices.Sorted(maps.Keys(r.fields())) }
func (r raw) none() bool          { return r.v == nil }
func (r raw) isMap() bool         { return r.fields() != nil }
func (r raw) truth() bool         { return r.v == true }
func (r raw) text(def string) string {
	switch v := r.v.(type) {
	case nil:
		return def
	case time.Time:
		return v.Format(time.DateOnly)
	}
	return fmt.Sprint(r.v)
}

// number reads one, and tells whether it is one.
func (r raw) number() (float64, bool) {
	switch v := r.v.(type) {
	case int:
		return float64(v), true
	case float64:
		return v, true
	}
	return 0, false
}

func (r raw) or(def float64) float64 {
	if x, ok := r.number(); ok {
		return x
	}
	return def
}

// list is a list, or one thing that stands for a list of it.
func (r raw) list() (out []raw) {
	items, ok := r.v.([]any)
	if !ok {
		if r.none() {
			return nil
		}
		return []raw{r}
	}
	for _, v := range items {
		out = append(out, raw{v})
	}
	return out
}

func (r raw) texts() (out []string) {
	for _, it := range r.list() {
		out = append(out, it.text(""))
	}
	return out
}

func (r raw) pair() [2]float64 {
	l := r.list()
	return [2]float64{l[0].or(0), l[1].or(0)}
}

func (r raw) numbers() map[string]float64 {
	out := map[string]float64{}
	for key := range r.fields() {
		out[key] = r.at(key).or(0)
	}
	return out
}

// plainly folds a word of the trade: lower case, single spaces.
func plainly(text string) string { return strings.ToLower(strings.Join(strings.Fields(text), " ")) }

// readNaive reads a ruleset of one layer.
func readNaive(texts ...string) *naive {
	n := &naive{observables: map[string]*naiveObservable{}, tests: map[string]*naiveSheet{}, claims: map[string]*claimed{}, parsed: map[string]tree{}}
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
	n.frequency, n.strength, n.counter, n.priors = p.at("frequency").numbers(), p.at("strength").numbers(), p.at("seen_at_counter").numbers(), p.at("priors").numbers()
	for _, line := range p.at("required").list() {
		n.required = append(n.required, naiveRequired{line.at("stake").or(0), line.at("share").or(0), line.at("doubt_limit").or(0)})
	}
	for _, in := range p.at("instruments").list() {
		n.instruments = append(n.instruments, naiveInstrument{in.at("instrument").text(""), in.at("test").text(""), in.at("observable").text(""), in})
	}
}

// declare reads what a test sheet declares: "an entry with a family declares the observable; another test's entry has u and
// blunder only".
func (n *naive) declare(s raw) {
	test := &naiveSheet{id: s.at("test").text(""), byEye: s.at("by_eye").truth(), needs: s.at("needs").list(), yields: map[string]*naiveYield{}}
	n.tests[test.id] = test
	for _, name := range s.at("yields").keys() {
		y := s.at("yields").at(name)
		if !y.has("family") {
			continue
		}
		o := &naiveObservable{name: name, kind: y.at("kind").text(""), family: y.at("family").text(""), test: test.id, property: y.at("property").text(name),
			covers: map[string][]string{}, background: map[string]float64{}, also: map[string]string{}}
		n.observables[name] = o
		given := &naiveYield{uncertainty: y.at("uncertainty"), otherwise: y.at("otherwise").or(0), figures: y.at("figures"), blunder: y.at("blunder").or(0), outcome: map[string]float64{},
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
			further.uncertainty, further.otherwise, further.figures = y.at("uncertainty"), y.at("otherwise").or(0), y.at("figures")
		}
		if y.has("blunder") {
			further.blunder, further.outcome = y.at("blunder").or(0), nil
		}
		test.yields[name] = &further
	}
}

// readTree: "A group's sheet carries what its leaves share, and leaves inherit and may narrow it". "`others`: members
// without a sheet of their own, each one more leaf with the figures that the group's sheet gives or inherits."
func (n *naive) readTree(sheets []raw) {
	byID := map[string]*naiveNode{}
	for _, s := range sheets {
		m := &naiveNode{group: s.has("group"), name: s.at("name").text(""), also: s.at("also").texts(), origin: s.at("origin").text(""), grown: s.at("grown").text(""),
			counter: s.at("seen_at_counter").text(""), ranges: map[string]*naiveRange{}, words: map[string]map[string]string{}, inVerdicts: s.at("in_verdicts")}
		m.id = s.at("group").text(s.at("material").text(""))
		m.told, m.nameable = m.id, !m.group || s.at("nameable").truth()
		for _, p := range s.at("properties").keys() {
			v := s.at("properties").at(p)
			r := &naiveRange{low: v.at("range").pair()[0], high: v.at("range").pair()[1], tolerance: v.at("tolerance").or(0)}
			if v.has("typical") {
				pair := v.at("typical").pair()
				r.typical = &pair
			}
			m.ranges[p] = r
		}
		for _, kind := range []string{"outcomes", "features"} {
			for _, o := range s.at(kind).keys() {
				m.words[o] = map[string]string{}
				seen := s.at(kind).at(o).at("seen")
				if !seen.isMap() { // "A single word means `always`"
					m.words[o][seen.text("")] = "always"
				}
				for _, w := range seen.keys() {
					m.words[o][w] = seen.at(w).text("")
				}
			}
		}
		byID[m.id] = m
		n.nodes = append(n.nodes, m)
	}
	for _, s := range sheets {
		m := byID[s.at("group").text(s.at("material").text(""))]
		m.up = byID[s.at("under").text("")]
		for _, o := range s.at("others").list() {
			origin := o.at("origin").text("")
			n.leaves = append(n.leaves, &naiveNode{id: m.id + ":" + origin, told: m.id, up: m, other: true, origin: origin, counter: o.at("seen_at_counter").text(""),
				ranges: map[string]*naiveRange{}, words: map[string]map[string]string{}})
		}
		if !m.group {
			n.leaves = append(n.leaves, m)
		}
	}
	byIDs := func(a, b *naiveNode) int { return strings.Compare(a.id, b.id) }
	slices.SortFunc(n.nodes, byIDs)
	slices.SortFunc(n.leaves, byIDs)
	for _, m := range n.nodes {
		n.inherit(m)
	}
	for i, leaf := range n.leaves {
		if leaf.other {
			n.inherit(leaf)
		}
		for m := leaf; m != nil; m = m.up {
			m.under = append(m.under, i)
		}
	}
}

// inherit hands down what stands above a node. "Reflectance of a material follows from its refractive index by Fresnel's
// equation unless a sheet gives it": ((n - 1) / (n + 1))^2 of what falls on it.
func (n *naive) inherit(m *naiveNode) {
	for up := m.up; up != nil; up = up.up {
		m.level++
		m.origin = cmp.Or(m.origin, up.origin)
		for p, r := range up.ranges {
			if m.ranges[p] == nil && !r.derived {
				m.ranges[p] = r
			}
		}
		for o, words := range up.words {
			if m.words[o] == nil {
				m.words[o] = words
			}
		}
	}
	if r := m.ranges["ri"]; r != nil && m.ranges["reflectance"] == nil && n.observables["reflectance"] != nil {
		reflected := func(n float64) float64 { return 100 * (n - 1) / (n + 1) * (n - 1) / (n + 1) }
		m.ranges["reflectance"] = &naiveRange{low: reflected(r.low), high: reflected(r.high), derived: true}
	}
}

// within tells whether a node is another or lies below it.
func within(m, above *naiveNode) bool {
	for ; m != nil; m = m.up {
		if m == above {
			return true
		}
	}
	return false
}

// node finds one by its id.
func (n *naive) node(id string) *naiveNode {
	for _, m := range n.nodes {
		if m.id == id {
			return m
		}
	}
	return nil
}

// nameable lists the nodes that a verdict may name, the deepest first.
func (n *naive) nameable() []*naiveNode {
	var out []*naiveNode
	for _, m := range n.nodes {
		if m.nameable {
			out = append(out, m)
		}
	}
	slices.SortFunc(out, func(a, b *naiveNode) int { return cmp.Or(b.level-a.level, strings.Compare(a.id, b.id)) })
	return out
}

// nameableAt is the lowest nameable node at or above one, or nil.
func nameableAt(m *naiveNode) *naiveNode {
	for ; m != nil && !m.nameable; m = m.up {
		continue
	}
	return m
}
