package engine_test

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"
)

// naiveRule is a rule as written, with what its text comes to.
type naiveRule struct {
	id, family, status string
	sheet              raw
	establishes        []string
	setsAside          []string
	callsFor, forbids  []string
	excludes           []int // leaves
	weights            []naiveWeight
	withholds          *naiveWithholding
	basis              []string // what its evidence rests on
	observes           []string // the observables of it
}

type naiveWeight struct {
	leaves   []int
	unlisted bool
	c        float64
}

type naiveWithholding struct {
	names, beside []int
	until         string
}

// readRule: `excludes`, `supports`, `weakens` name "a list of materials or groups, or `where:` an expr condition over
// `material`", and evidence unlisted too.
func (n *naive) readRule(s raw) {
	r := &naiveRule{id: s.at("rule").text(""), family: s.at("family").text(""), status: s.at("status").text("active"), sheet: s,
		establishes: s.at("establishes").keys(), setsAside: s.at("sets_aside").texts(), callsFor: s.at("calls_for").texts(), forbids: s.at("forbids").texts()}
	if s.has("excludes") {
		r.excludes, _ = n.selected(s.at("excludes"))
	}
	for key, sign := range map[string]float64{"supports": 1, "weakens": -1} {
		for _, it := range s.at(key).list() {
			w := naiveWeight{c: sign * math.Log(it.at("ratio").or(n.strength[it.at("strength").text("")]))}
			w.leaves, w.unlisted = n.selected(it)
			r.weights = append(r.weights, w)
		}
	}
	if w := s.at("withholds"); !w.none() {
		r.withholds = &naiveWithholding{until: w.at("until").text("")}
		r.withholds.names, _ = n.selected(w.at("names"))
		r.withholds.beside, _ = n.selected(w.at("beside"))
	}
	n.rules = append(n.rules, r)
}

// selected lists the leaves at or below some nodes, or those for which a condition holds.
func (n *naive) selected(v raw) (leaves []int, unlisted bool) {
	if v.has("where") {
		for i, leaf := range n.leaves {
			if n.ofMaterial(leaf).is(n.parse(v.at("where").text(""))) == isHolding {
				leaves = append(leaves, i)
			}
		}
		return leaves, false
	}
	if v.isMap() {
		v = v.at("materials")
	}
	for _, id := range v.texts() {
		if id == "unlisted" {
			unlisted = true
			continue
		}
		leaves = append(leaves, n.node(id).under...)
	}
	slices.Sort(leaves)
	return slices.Compact(leaves), unlisted
}

// ofMaterial: "`where:` is decided at load for each material: a range holds or fails only as a whole, and a missing property is
// undecided". Of an outcome what its sheet names and may be seen counts.
func (n *naive) ofMaterial(leaf *naiveNode) *wording {
	return &wording{near: func(float64, float64) {}, met: map[string]bool{}, of: func(name string) meaning {
		name = strings.TrimPrefix(name, "material.")
		if name == "origin" {
			return meaning{here: true, choices: []set{setOf(leaf.origin)}}
		}
		property, end, _ := strings.Cut(name, ".")
		if r := leaf.ranges[property]; r != nil {
			switch end {
			case "low":
				return meaning{here: true, amounts: []amount{exactly(r.low)}}
			case "high":
				return meaning{here: true, amounts: []amount{exactly(r.high)}}
			}
			return meaning{here: true, amounts: []amount{{bounded: true, low: r.low, high: r.high}}}
		}
		open := set{}
		for w, word := range leaf.words[name] {
			open[w] = word != "never"
		}
		maps.DeleteFunc(open, func(_ string, may bool) bool { return !may })
		o := n.observables[name]
		if len(open) == 0 || o == nil {
			return meaning{}
		}
		return meaning{here: true, choices: []set{open}, covers: o.covers}
	}}
}

// settle finds what a rule rests on: "the observables that it names (in `if` and `unless`, through facts)", of sets the features;
// a set of which it names none, all.
func (n *naive) settle(r *naiveRule) {
	atoms, observes := set{}, set{}
	done := map[*naiveRule]bool{}
	var look func(by *naiveRule)
	look = func(by *naiveRule) {
		if done[by] {
			return
		}
		done[by] = true
		for _, text := range by.texts(by != r) {
			named, features := names(n.parse(text))
			for _, name := range named {
				for _, maker := range n.rules {
					if maker.status == "active" && slices.Contains(maker.establishes, name) {
						look(maker)
					}
				}
				o := n.observables[name]
				if o == nil {
					continue
				}
				observes[name] = true
				asked := features[name]
				if asked == nil {
					asked = o.words
				}
				if o.kind != "features" {
					atoms[name] = true
					continue
				}
				for _, f := range asked {
					atoms[name+": "+f] = true
				}
			}
		}
	}
	look(r)
	r.basis, r.observes = slices.Sorted(maps.Keys(atoms)), slices.Sorted(maps.Keys(observes))
	if r.family == "" && len(r.observes) > 0 {
		r.family = n.observables[r.observes[0]].family
	}
}

// texts are a rule's conditions, with how it computes what it establishes.
func (r *naiveRule) texts(established bool) (out []string) {
	for _, key := range []string{"if", "unless"} {
		if r.sheet.has(key) {
			out = append(out, r.sheet.at(key).text(""))
		}
	}
	for _, fact := range r.establishes {
		if is := r.sheet.at("establishes").at(fact).at("is"); established && !is.none() {
			out = append(out, is.text(""))
		}
	}
	return out
}

// advises: "a rule that only cautions or asks for a test".
func (r *naiveRule) advises() bool {
	return !slices.ContainsFunc([]string{"excludes", "supports", "weakens", "sets_aside", "establishes", "forbids", "sends_on", "withholds"}, r.sheet.has)
}

// firing is the rules at work on one case.
type firing struct {
	*naive
	c      *naiveCase
	on     time.Time
	truths map[*naiveRule]verity
	facts  map[string]meaning
	asides map[string]bool // observables that are set aside
	faults map[string]bool // rules that could not be evaluated
	sure   func(a, b float64)
	met    map[string]bool // what came up, to be counted
}

func (f *firing) wording() *wording {
	return &wording{of: f.of, u: f.uncertainty, near: f.sure, met: f.met}
}

// inForce: "`since` is inclusive, `until` exclusive".
func (f *firing) inForce(r *naiveRule) bool {
	day := f.on.Format(time.DateOnly)
	since, until := r.sheet.at("since").text(""), r.sheet.at("until").text("")
	return r.status != "retired" && since <= day && (until == "" || day < until)
}

// condition is "`if` and not `unless`"; "`if:` left out means always".
func (f *firing) condition(r *naiveRule) (only, whole verity) {
	only, whole = isHolding, isHolding
	if r.sheet.has("if") {
		only = f.wording().is(f.parse(r.sheet.at("if").text("")))
	}
	if whole = only; r.sheet.has("unless") {
		whole = only.and(f.wording().is(f.parse(r.sheet.at("unless").text(""))).not())
	}
	return only, whole
}

// truth is a rule's; one that is not in force fails.
func (f *firing) truth(r *naiveRule) verity {
	v, ok := f.truths[r]
	if !ok {
		v = isFailing
		if f.inForce(r) {
			_, v = f.condition(r)
		}
		f.truths[r] = v
		if v == isFaulty && r.status == "active" {
			f.faults[r.id] = true
		}
	}
	return v
}

// fires: "Only a condition that *holds* fires", and "A draft is evaluated and shown beside the verdict, but changes nothing".
func (f *firing) fires(r *naiveRule) bool { return r.status == "active" && f.truth(r) == isHolding }

// setters are the rules that fire and set an observable aside.
func (f *firing) setters(name string) (out []*naiveRule) {
	for _, r := range f.rules {
		if slices.Contains(r.setsAside, name) && f.fires(r) {
			out = append(out, r)
		}
	}
	return out
}

func (f *firing) aside(name string) bool {
	is, known := f.asides[name]
	if !known {
		is = len(f.setters(name)) > 0
		f.asides[name] = is
	}
	return is
}

// of is what a name means in a condition.
func (f *firing) of(name string) meaning {
	switch {
	case f.observables[name] != nil:
		return f.observed(f.observables[name])
	case name == "claim":
		return meaning{here: f.c.claim != "", text: f.c.claim}
	case name == "stake" && f.c.stake != nil:
		return meaning{here: true, amounts: []amount{exactly(*f.c.stake)}}
	case name == "stake":
		return meaning{}
	case strings.HasPrefix(name, "stone."):
		return f.ofStone(f.c).of(name)
	}
	if _, ok := f.facts[name]; !ok {
		f.facts[name] = f.fact(name)
	}
	return f.facts[name]
}

// observed is what was read of an observable. A place that stayed inconclusive says nothing beside another that was read.
func (f *firing) observed(o *naiveObservable) meaning {
	m := meaning{covers: o.covers}
	for _, r := range f.c.readings {
		if r.o != o {
			continue
		}
		m.tried = true
		if !r.usable() {
			continue
		}
		m.here = true
		switch r.form {
		case "value":
			m.amounts = append(m.amounts, amount{value: r.value, by: map[string]float64{r.name(): 1}})
		case "rays":
			m.amounts = append(m.amounts, amount{value: r.value, by: map[string]float64{r.name(): 1}}, amount{value: r.high, by: map[string]float64{r.name() + " high": 1}})
		case "bounds":
			m.amounts = append(m.amounts, amount{bounded: true, low: r.lo, high: r.hi, openLow: r.openLo, openTop: r.openHi, span: o.span})
		case "choice":
			m.choices = append(m.choices, r.open())
		case "features":
			unseen := maps.Clone(r.lookedFor)
			maps.DeleteFunc(unseen, func(w string, _ bool) bool { return r.seen[w] })
			m.features = append(m.features, looked{r.seen, unseen})
		}
	}
	aside := f.aside(o.name)
	if o.name == "birefringence" && !m.tried {
		m.amounts = f.turned()
		m.here, m.tried = len(m.amounts) > 0, len(m.amounts) > 0
		aside = aside || m.here && f.aside("ri")
	}
	m.here = m.here && !aside
	return m
}

// turned: "the two extreme rays of a full turn ... which also give `birefringence`".
func (f *firing) turned() (out []amount) {
	for _, r := range f.c.readings {
		if r.form == "rays" && r.usable() {
			out = append(out, amount{value: r.high - r.value, by: map[string]float64{r.name(): -1, r.name() + " high": 1}})
		}
	}
	return out
}

// uncertainty: "first-order propagation by partial derivatives per reading (JCGM 100:2008, 5.1.2) ... and covariances between
// readings can be given in the case".
func (f *firing) uncertainty(by map[string]float64) float64 {
	u, of := map[string]float64{}, map[string]string{}
	for _, r := range f.c.readings {
		if r.usable() {
			u[r.name()], u[r.name()+" high"] = r.u, r.highU
			of[r.name()], of[r.name()+" high"] = r.o.name, r.o.name
		}
	}
	variance := 0.0
	for a, da := range by {
		variance += da * da * u[a] * u[a]
		for b, db := range by {
			for _, k := range f.c.correlations {
				pair := k.at("of").texts()
				if a < b && (of[a] == pair[0] && of[b] == pair[1] || of[b] == pair[0] && of[a] == pair[1]) {
					variance += 2 * da * db * u[a] * u[b] * k.at("r").or(0)
				}
			}
		}
	}
	return math.Sqrt(math.Max(variance, 0))
}

// fact: "A truth that rules establish holds if one of them fires, fails if all fail, else is undecided; a choice or quantity is
// absent until one fires, and undecided ("rules disagree") when two give unlike values."
func (f *firing) fact(name string) meaning {
	m := meaning{truth: isFailing, covers: map[string][]string{}}
	known := false
	for _, r := range f.rules {
		if r.status == "retired" || !slices.Contains(r.establishes, name) {
			continue
		}
		if known = true; r.status == "draft" {
			continue
		}
		given, is := r.sheet.at("establishes").at(name), f.truth(r)
		switch {
		case given.truth():
			if m.here = true; is == isFaulty {
				is = isUndecided
			}
			m.truth = m.truth.or(is)
		case is != isHolding:
		case given.isMap():
			m.gives(f.quantity(r, given.at("is").text("")))
		default:
			m.gives(meaning{here: true, choices: []set{setOf(given.text(""))}})
		}
	}
	if !known {
		panic(fmt.Sprintf("nothing establishes %q", name))
	}
	return m
}

// gives adds what one more rule gives.
func (m *meaning) gives(more meaning) {
	switch {
	case !more.here || m.tried:
	case !m.here:
		m.here, m.amounts, m.choices = true, more.amounts, more.choices
	default:
		if !alikeAll(m.amounts, more.amounts) || fmt.Sprint(m.choices) != fmt.Sprint(more.choices) {
			m.here, m.tried = false, true
		}
	}
}

func alikeAll(a, b []amount) bool {
	return slices.EqualFunc(a, b, func(a, b amount) bool {
		return a.value == b.value && a.bounded == b.bounded && a.low == b.low && a.high == b.high && maps.Equal(a.by, b.by)
	})
}

func (f *firing) quantity(r *naiveRule, text string) meaning {
	m := meaning{here: true}
	t := f.parse(text)
	err := f.wording().combinations(t, t, func(pick map[string]amount) error {
		a, err := f.wording().amount(t, pick)
		m.amounts = append(m.amounts, a)
		return err
	})
	if err != nil {
		f.faults[r.id] = true
		return meaning{}
	}
	m.here = len(m.amounts) > 0
	return m
}

// withholding lists the rules that now keep names back: "in force while the rule fires and `until` does not hold, undecided
// included".
func (f *firing) withholding() (out []*naiveRule) {
	for _, r := range f.rules {
		if r.withholds != nil && f.fires(r) && f.until(r) != isHolding {
			out = append(out, r)
		}
	}
	return out
}

// until is whether a rule's names are free again; without a condition they never are.
func (f *firing) until(r *naiveRule) verity {
	if r.withholds.until == "" {
		return isFailing
	}
	return f.wording().is(f.parse(r.withholds.until))
}
