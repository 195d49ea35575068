package engine_test

import (
	"math"
	"slices"
	"strings"
	"time"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/eval"
	"whystone/kb/truth"
)

// naive is the second implementation: the sentences of the arithmetic one by one, with maps and loops, over the sheets
// as loaded. It shares no code with the engine. Of the knowledge base it takes the truth of each rule, and what a rule
// rests on.
type naive struct {
	rs *kb.Ruleset
	// counter is, by node, the word of its own sheet for how common it is.
	counter map[string]string
}

// evidence is one contribution: what a reading, or a rule that fires, says of each material, by its place in rs.Leaves.
type evidence struct {
	name   string
	family string
	basis  string // what it rests on
	tests  map[string]bool
	e      float64
	c      []float64
	out    []bool // the materials that it excludes
	said   bool   // something of some material: what no sheet speaks of is no evidence
	from   []*casefile.Reading
	rule   *kb.Rule
}

// examined is a case on its way to a verdict.
type examined struct {
	*naive
	c      *casefile.Case
	fires  []*kb.Rule
	faulty bool
	aside  map[string]bool
	list   []*evidence
	// close tells that something lay so near its threshold that the rounding of float64 may decide.
	close bool
}

const closeness = 1e-9

// above is a > b.
func (x *examined) above(a, b float64) bool {
	if !math.IsInf(a, 0) && !math.IsInf(b, 0) && math.Abs(a-b) <= closeness*math.Max(math.Abs(a), math.Abs(b)) {
		x.close = true
	}
	return a > b
}

// atLeast is a >= b.
func (x *examined) atLeast(a, b number) bool {
	x.mark(a, b)
	return !less(a, b)
}

func (x *examined) mark(a, b number) {
	size := abs(a)
	if less(size, abs(b)) {
		size = abs(b)
	}
	if !less(times(size, num(closeness)), abs(minus(a, b))) {
		x.close = true
	}
}

// ordered sorts by falling value, ties by name. What is equal to 40 figures is a tie; what is nearly equal else is close.
func ordered[T any](x *examined, list []T, value func(T) number, name func(T) string) {
	slices.SortStableFunc(list, func(a, b T) int {
		va, vb := value(a), value(b)
		if !less(times(abs(va), num(1e-40)), abs(minus(va, vb))) {
			return strings.Compare(name(a), name(b))
		}
		x.mark(va, vb)
		return vb.Cmp(va)
	})
}

// examine runs the rules and gathers the evidence.
func (n *naive) examine(c *casefile.Case, on time.Time) *examined {
	run := eval.New(n.rs)
	run.Do(c, on)
	x := &examined{naive: n, c: c, faulty: len(run.Faults) > 0, aside: map[string]bool{}}
	// "A draft is evaluated and shown beside the verdict, but changes nothing."
	for i, r := range n.rs.Order {
		if run.Rules[i] == truth.Holds && r.Status == kb.Active {
			x.fires = append(x.fires, r)
		}
	}
	// `sets_aside`: "the named observables don't count here".
	for _, r := range x.fires {
		for _, o := range r.SetsAside {
			x.aside[o.Name] = true
		}
	}
	combined := x.combine()
	for _, r := range c.Readings {
		if x.counts(r) && !slices.Contains(combined, r) {
			x.sheets(r)
		}
	}
	for _, r := range x.fires {
		x.says(r)
	}
	return x
}

// counts: a reading that is neither inconclusive nor set aside.
func (x *examined) counts(r *casefile.Reading) bool {
	return r.Form != casefile.Inconclusive && !x.aside[r.Observable.Name]
}

func (x *examined) add(name, family, basis string, e float64, from ...*casefile.Reading) *evidence {
	ev := &evidence{name: name, family: family, basis: basis, e: e, tests: map[string]bool{}, from: from,
		c: make([]float64, len(x.rs.Leaves)), out: make([]bool, len(x.rs.Leaves))}
	for _, r := range from {
		for _, t := range r.Tests {
			ev.tests[t] = true
		}
	}
	x.list = append(x.list, ev)
	return ev
}

// excludes: "Then L = 0, so c = ln e".
func (ev *evidence) excludes(i int) {
	ev.says(i, math.Log(ev.e))
	ev.out[i] = true
}

func (ev *evidence) says(i int, c float64) { ev.c[i], ev.said = c, true }

// at: "Readings with unlike `where` are never combined: each counts by itself". A rule rests on the same readings as
// the first place's line; the line of a further place stands alone.
func (x *examined) at(r *casefile.Reading, basis string, gives func(*casefile.Reading) bool) string {
	for _, o := range x.c.Readings {
		if gives(o) {
			if o == r {
				return basis
			}
			return basis + " at " + r.Where
		}
	}
	return basis
}

// sheets: the contributions of one reading by what the material sheets say.
func (x *examined) sheets(r *casefile.Reading) {
	o := r.Observable
	alike := func(s *casefile.Reading) bool { return s.Observable == o && s.Form != casefile.Inconclusive }
	switch r.Form {
	case casefile.Choice:
		x.choice(x.add(o.Name, o.Family, x.at(r, o.Name, alike), r.Blunder, r), r)
	case casefile.Features:
		for f := range o.Outcomes {
			if r.LookedFor.Has(f) {
				name := o.Name + ": " + o.Outcomes[f].Name
				x.feature(x.add(name, o.Family, x.at(r, name, alike), r.Blunder, r), r, f)
			}
		}
	case casefile.Interval:
		x.interval(x.add(o.Name, o.Family, x.at(r, o.Name, alike), r.Blunder, r), r)
	case casefile.Pair:
		x.rays(x.add(o.Name, o.Family, x.at(r, o.Name, alike), r.Blunder, r), r)
		if d := x.rs.Vocabulary.Observable("birefringence"); d != nil && x.fromRays(r) {
			x.difference(x.add(d.Name, d.Family, x.at(r, d.Name, x.fromRays), r.Blunder, r), r, d)
		}
	default:
		x.value(x.add(o.Name, o.Family, x.at(r, o.Name, alike), r.Blunder, r), r.Value, r.U, o, o.Span, o.Resolution)
	}
}

// fromRays: "a `birefringence` given beside it replaces the difference", and one that is set aside does not count.
func (x *examined) fromRays(r *casefile.Reading) bool {
	given := slices.ContainsFunc(x.c.Readings, func(o *casefile.Reading) bool { return o.Observable.Name == "birefringence" })
	return r.Form == casefile.Pair && x.counts(r) && !given && !x.aside["birefringence"]
}

// choice: "frequency words stand for numbers in the policy. Choices not mentioned share max(1 - sum of the mentioned,
// 0.03) equally; then all are divided by their sum. ... A choice may `cover` others: it stays out of the sum, and its L
// and L_any are the sums of theirs. L_any is 1 / number of choices."
func (x *examined) choice(ev *evidence, r *casefile.Reading) {
	o := r.Observable
	var plain, meant []string
	for k, choice := range o.Outcomes {
		if choice.Covers == 0 {
			plain = append(plain, choice.Name)
		}
		if k == r.Outcome && choice.Covers == 0 || o.Outcomes[r.Outcome].Covers>>k&1 == 1 {
			meant = append(meant, choice.Name)
		}
	}
	for i, m := range x.rs.Leaves {
		f := m.Choices[o.Name]
		if f == nil {
			continue
		}
		p := map[string]float64{}
		sum, silent := 0.0, 0.0
		for _, choice := range plain {
			if word, ok := f.Words[choice]; ok {
				p[choice] = x.rs.Policy.Frequency[word]
				sum += p[choice]
			} else {
				silent++
			}
		}
		rest := math.Max(1-sum, 0.03)
		if silent > 0 {
			sum += rest
		}
		l, never := 0.0, true
		for _, choice := range meant {
			word, ok := f.Words[choice]
			if !ok {
				p[choice] = rest / silent
			}
			l += p[choice] / sum
			never = never && word == "never"
		}
		if never { // "a choice that is `never`"
			ev.excludes(i)
			continue
		}
		ev.says(i, contributes(l, float64(len(meant))/float64(len(plain)), ev.e))
	}
}

// feature: "each is a contribution of its own: seen, L = p and L_any = the feature's `background`; looked for and not
// seen, 1 - p and 1 - background. Only a `never` feature that is seen excludes; absence never does."
func (x *examined) feature(ev *evidence, r *casefile.Reading, f int) {
	o := r.Observable
	for i, m := range x.rs.Leaves {
		if m.Features[o.Name] == nil {
			continue
		}
		word, ok := m.Features[o.Name].Words[o.Outcomes[f].Name]
		if !ok {
			continue
		}
		p, background := x.rs.Policy.Frequency[word], o.Outcomes[f].Background
		switch {
		case !r.Seen.Has(f):
			ev.says(i, contributes(1-p, 1-background, ev.e))
		case word == "never":
			ev.excludes(i)
		default:
			ev.says(i, contributes(p, background, ev.e))
		}
	}
}

// says: "`supports` gives ln ratio to the materials it names, `weakens` minus that, 0 to all others", and "a rule's
// exclusion gives ln e with e the largest blunder rate of the tests whose observables it names".
func (x *examined) says(r *kb.Rule) {
	if r.Excludes == nil && len(r.Weights) == 0 {
		return
	}
	var atoms []string
	for _, a := range r.Basis {
		name := a.Observable.Name
		if a.Feature >= 0 {
			name += ": " + a.Observable.Outcomes[a.Feature].Name
		}
		atoms = append(atoms, name)
	}
	slices.Sort(atoms)
	ev := x.add(r.ID, r.Family, strings.Join(atoms, " "), 0)
	ev.rule = r
	if len(atoms) == 0 {
		ev.basis = "rule " + r.ID // it rests on nothing that another could rest on
	}
	for _, reading := range x.named(r) {
		ev.e = math.Max(ev.e, reading.Blunder)
		for _, t := range reading.Tests {
			ev.tests[t] = true
		}
	}
	if len(ev.tests) == 0 { // nothing that it names was read: the rates as declared
		for _, a := range r.Basis {
			ev.tests[a.Observable.Test] = true
			ev.e = math.Max(ev.e, x.rs.Vocabulary.Yield(a.Observable.Test, a.Observable).Blunder)
		}
	}
	for i := range x.rs.Leaves {
		said := []float64{0}
		for _, w := range r.Weights {
			if slices.Contains(w.Leaves, i) {
				said = append(said, math.Log(w.Ratio))
			}
		}
		if c := x.furthest(said); c != 0 {
			ev.says(i, c)
		}
		if r.Excludes != nil && slices.Contains(r.Excludes.Leaves, i) {
			ev.excludes(i)
		}
	}
}

// named lists the readings that count and that a rule's condition names, through facts too. Two rays are read for the
// birefringence unless it was given.
func (x *examined) named(r *kb.Rule) (out []*casefile.Reading) {
	for _, reading := range x.c.Readings {
		for _, a := range r.Basis {
			if x.counts(reading) && (a.Observable == reading.Observable || a.Observable.Name == "birefringence" && x.fromRays(reading)) {
				out = append(out, reading)
				break
			}
		}
	}
	return out
}

// furthest: "the c furthest from 0 counts (ties: the negative one)".
func (x *examined) furthest(said []float64) float64 {
	best := said[0]
	for _, c := range said[1:] {
		switch d := math.Abs(c) - math.Abs(best); {
		case math.Abs(d) <= 1e-14*math.Abs(c): // a tie, as ln r and ln 1/r may round unlike
			best = math.Min(best, c)
		case d > 0:
			best = c
		}
	}
	return best
}
