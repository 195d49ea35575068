package engine_test

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"
)

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
	only = isHolding
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

// fires: "Only a condition that *holds* fires", and "A draft is evaluated and shown beside the verdict, but changes
// nothing".
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

// observed is what was read of an observable. A place that stayed inconclusive says nothing beside another that was
// read.
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
			m.amounts = append(m.amounts, amount{value: r.value, by: map[string]float64{r.name(): 1}},
				amount{value: r.high, by: map[string]float64{r.name() + " high": 1}})
		case "bounds":
			m.amounts = append(m.amounts, amount{bounded: true, low: r.lo, high: r.hi, openLow: r.openLo,
				openTop: r.openHi, span: o.span})
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
			out = append(out, amount{value: r.high - r.value, by: map[string]float64{r.name(): -1,
				r.name() + " high": 1}})
		}
	}
	return out
}

// uncertainty: "first-order propagation by partial derivatives per reading (JCGM 100:2008, 5.1.2) ... and covariances
// between readings can be given in the case".
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

// fact: "A truth that rules establish holds if one of them fires, fails if all fail, else is undecided; a choice or
// quantity is absent until one fires, and undecided ("rules disagree") when two give unlike values."
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
		return a.value == b.value && a.bounded == b.bounded && a.low == b.low && a.high == b.high &&
			maps.Equal(a.by, b.by)
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

// withholding lists the rules that now keep names back: "in force while the rule fires and `until` does not hold,
// undecided included".
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
