package sat

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"pgregory.net/rapid"
)

// A base is a random rule base over a small invented vocabulary. Its conditions are trees of our own that are printed
// twice: in the rule language, for the ruleset, and in SMT-LIB, for the solver. Nothing of kb/sat is used to make it.
type base struct {
	quantities []*measure
	facts      []*fact
	rules      []*rule
	about      []string             // what its conditions speak of, by name
	cuts       map[string][]float64 // of each quantity and number
	dates      []time.Time
}

// measure is a quantity: what can occur, what each way of reading it can read, and the way's name.
type measure struct {
	name   string
	span   [2]float64
	limits [2]float64 // of the declaring test
	other  *[2]float64
	tools  [][2]float64 // the house's instruments for the declaring test
}

// ranges are what each test and instrument can read.
func (m *measure) ranges() [][2]float64 {
	all := append([][2]float64{m.limits}, m.tools...)
	if m.other != nil {
		all = append(all, *m.other)
	}
	return all
}

// reach is what can be read of it at all.
func (m *measure) reach() [2]float64 {
	all := m.ranges()
	out := all[0]
	for _, l := range all {
		out[0], out[1] = min(out[0], l[0]), max(out[1], l[1])
	}
	return [2]float64{max(out[0], m.span[0]), min(out[1], m.span[1])}
}

type fact struct {
	name  string
	words []string // of a choice; nil for a truth
}

type rule struct {
	id           string
	cond, unless *expr
	draft        bool
	since, until time.Time
	aside        []string
	gives        map[string]string // fact to word; "true" of a truth
}

var (
	choices  = map[string][]string{"echo": {"dull", "sharp"}, "shade": {"blue", "green", "red"}}
	covering = map[string][]string{"warm": {"green", "red"}} // of shade
	marks    = []string{"dot", "line", "ring"}
	claims   = []string{"opal", "ruby"}
	readings = []string{"echo", "glow", "marks", "pull", "shade"}
	things   = append(slices.Clone(readings), "claim", "stone.carat", "stone.mounted")
)

// expr is a condition.
type expr struct {
	op    string // and or not, constant, less, chain, near, equal, word, feature, quantifier, truth, seen, unclear
	name  string
	kids  []*expr
	rel   string // of less; of chain, with a blank between the two; of quantifier
	a, b  float64
	words []string
	yes   bool
}

func figure(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// String is the condition in the rule language.
func (e *expr) String() string {
	list := func() string { return `["` + strings.Join(e.words, `", "`) + `"]` }
	switch e.op {
	case "and", "or":
		parts := make([]string, len(e.kids))
		for i, k := range e.kids {
			parts[i] = "(" + k.String() + ")"
		}
		return strings.Join(parts, " "+e.op+" ")
	case "not":
		return "not (" + e.kids[0].String() + ")"
	case "constant":
		return strconv.FormatBool(e.yes)
	case "less":
		return e.name + " " + e.rel + " " + figure(e.a)
	case "chain":
		left, right, _ := strings.Cut(e.rel, " ")
		return figure(e.a) + " " + left + " " + e.name + " " + right + " " + figure(e.b)
	case "near":
		return "near(" + e.name + ", " + figure(e.a) + ", " + figure(e.b) + ")"
	case "equal":
		return e.name + " == " + figure(e.a)
	case "word":
		is, in := "==", "in"
		if !e.yes {
			is, in = "!=", "not in"
		}
		if len(e.words) == 1 {
			return e.name + " " + is + " " + strconv.Quote(e.words[0])
		}
		return e.name + " " + in + " " + list()
	case "feature":
		return strconv.Quote(e.words[0]) + " in " + e.name
	case "quantifier":
		return e.rel + "(" + e.name + ", # in " + list() + ")"
	case "truth":
		if !e.yes {
			return e.name + " == false"
		}
		return e.name
	}
	return e.op + "(" + e.name + ")"
}

// gen draws rule bases.
type gen struct {
	t *rapid.T
	b *base
}

func (g gen) n(n int) int              { return rapid.IntRange(0, n-1).Draw(g.t, "n") }
func (g gen) one(in int) bool          { return g.n(in) == in-1 } // rapid shrinks towards 0: the plain case
func (g gen) of(list ...string) string { return list[g.n(len(list))] }

// some is a part of a list that is not empty.
func (g gen) some(list []string) []string {
	out := []string{g.of(list...)}
	for _, w := range list {
		if g.one(3) && !slices.Contains(out, w) {
			out = append(out, w)
		}
	}
	return out
}

// drawBase draws a base whose conditions speak of few things, so that all their states can be gone through; with wide
// of all of them.
func drawBase(t *rapid.T, wide bool) *base {
	b := &base{cuts: map[string][]float64{}}
	g := gen{t, b}
	b.quantities = []*measure{g.measure("glow"), {name: "pull", span: [2]float64{0, 8}, limits: [2]float64{0, 8}}}
	b.about = slices.Clone(things)
	for most := 2 + g.n(2); !wide && len(b.about) > most; {
		i := g.n(len(b.about))
		b.about = slices.Delete(b.about, i, i+1)
	}
	for _, name := range []string{"glow", "pull", "stone.carat"} {
		for range 1 + g.n(2) + g.n(2) {
			cut := float64(g.n(33)) / 8 // eighths are exact in binary, and so are their sums
			if ends := b.limits(name); len(ends) > 0 && g.one(3) {
				cut = ends[g.n(len(ends))]
			}
			b.cuts[name] = append(b.cuts[name], cut)
		}
	}
	for _, day := range []int{3, 10, 20}[:1+g.n(3)] {
		b.dates = append(b.dates, time.Date(2031, 4, day, 0, 0, 0, 0, time.UTC))
	}
	b.facts = []*fact{{name: "odd"}, {name: "kind", words: []string{"coarse", "fine", "plain"}}, {name: "rare"}}
	for i := range 3 + g.n(6) {
		b.rules = append(b.rules, g.rule(i))
	}
	return b
}

// measure draws one whose tests and instruments can read less than there is.
func (g gen) measure(name string) *measure {
	m := &measure{name: name, span: [2]float64{0, 4}, limits: [][2]float64{{1, 3}, {0, 3}, {1, 4}, {0, 4}}[g.n(4)]}
	if g.one(3) {
		m.other = &[2]float64{2, 3.5}
	}
	switch g.n(4) {
	case 0: // the only one is the house's, and read by without saying so
		m.tools = [][2]float64{{m.limits[0] - 0.5, m.limits[1] + 0.25}}
	case 1:
		m.tools = [][2]float64{{0.5, 2}, {1.5, 3.25}}
	}
	return m
}

// rule draws the next rule. It reads what it likes of readings and facts; that closes these, so that it and the rules
// after it may neither set aside nor establish them: there is no circle, and none of the bases is refused.
func (g gen) rule(i int) *rule {
	r := &rule{id: fmt.Sprintf("%c-rule-%d", 'a'+rune(g.n(26)), i), gives: map[string]string{}}
	if !g.one(12) {
		r.cond = g.condition(3)
	}
	if g.one(3) {
		r.unless = g.condition(1 + g.n(2))
	}
	r.draft = g.one(8)
	if g.one(3) {
		if i := g.n(len(g.b.dates)); g.one(2) {
			r.since = g.b.dates[i]
			if i+1 < len(g.b.dates) && g.one(2) {
				r.until = g.b.dates[i+1]
			}
		} else {
			r.until = g.b.dates[i]
		}
	}
	closed := r.reads()
	for _, earlier := range g.b.rules {
		closed = append(closed, earlier.reads()...)
	}
	for _, f := range g.b.facts {
		switch {
		case slices.Contains(closed, f.name) || !g.one(2):
		case f.words == nil:
			r.gives[f.name] = "true"
		default:
			r.gives[f.name] = g.of(f.words...)
		}
	}
	for _, x := range readings {
		if slices.Contains(g.b.about, x) && !slices.Contains(closed, x) && g.one(3) {
			r.aside = append(r.aside, x)
		}
	}
	return r
}

func (r *rule) reads() []string {
	var out []string
	for _, e := range []*expr{r.cond, r.unless} {
		if e != nil {
			e.each(func(l *expr) { out = append(out, l.name) })
		}
	}
	return out
}

func (e *expr) each(f func(*expr)) {
	f(e)
	for _, k := range e.kids {
		k.each(f)
	}
}

func (g gen) condition(depth int) *expr {
	if depth > 1 && !g.one(4) {
		switch g.n(5) {
		case 0:
			return &expr{op: "not", kids: []*expr{g.condition(depth - 1)}}
		case 1, 2:
			return &expr{op: "and", kids: []*expr{g.condition(depth - 1), g.condition(depth - 1)}}
		default:
			return &expr{op: "or", kids: []*expr{g.condition(depth - 1), g.condition(depth - 1)}}
		}
	}
	if g.one(40) {
		return &expr{op: "constant", yes: g.one(2)}
	}
	if given := g.given(); len(given) > 0 && g.one(3) {
		return g.onFact(given[g.n(len(given))])
	}
	return g.leaf(g.of(g.b.about...))
}

// given lists the facts that some rule so far gives.
func (g gen) given() []*fact {
	var out []*fact
	for _, f := range g.b.facts {
		if slices.ContainsFunc(g.b.rules, func(r *rule) bool { return r.gives[f.name] != "" }) {
			out = append(out, f)
		}
	}
	return out
}

func (g gen) onFact(f *fact) *expr {
	if g.one(5) {
		return &expr{op: "seen", name: f.name}
	}
	if f.words == nil {
		return &expr{op: "truth", name: f.name, yes: g.n(3) > 0}
	}
	var known []string
	for _, r := range g.b.rules {
		if w := r.gives[f.name]; w != "" && !slices.Contains(known, w) {
			known = append(known, w)
		}
	}
	return &expr{op: "word", name: f.name, words: g.some(known), yes: g.n(3) > 0}
}

func (g gen) leaf(name string) *expr {
	if g.one(7) {
		if slices.Contains(readings, name) && g.one(2) {
			return &expr{op: "unclear", name: name}
		}
		return &expr{op: "seen", name: name}
	}
	cut := func() float64 { return g.b.cuts[name][g.n(len(g.b.cuts[name]))] }
	switch name {
	case "echo":
		return &expr{op: "word", name: name, words: g.some(choices[name]), yes: g.n(3) > 0}
	case "shade":
		return &expr{op: "word", name: name, words: g.some([]string{"blue", "green", "red", "warm"}), yes: g.n(3) > 0}
	case "claim":
		return &expr{op: "word", name: name, words: g.some(claims), yes: g.n(3) > 0}
	case "marks":
		if g.one(3) {
			return &expr{op: "quantifier", name: name, rel: g.of("any", "all", "none"), words: g.some(marks)}
		}
		return &expr{op: "feature", name: name, words: []string{g.of(marks...)}}
	case "stone.mounted":
		return &expr{op: "truth", name: name, yes: g.n(3) > 0}
	case "stone.carat":
		if g.one(4) {
			return &expr{op: "equal", name: name, a: cut()}
		}
	}
	switch g.n(4) {
	case 0:
		return &expr{op: "chain", name: name, rel: g.of("<", "<=") + " " + g.of("<", "<="), a: cut(), b: cut()}
	case 1:
		// An interval whose ends are cuts, as near() writes it.
		a, b := cut(), cut()
		return &expr{op: "near", name: name, a: (a + b) / 2, b: max(a-b, b-a) / 2}
	}
	return &expr{op: "less", name: name, rel: g.of("<", "<=", ">", ">="), a: cut()}
}
