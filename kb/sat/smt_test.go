package sat

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// smt writes a base as SMT-LIB 2: what can be read, what each rule's firing and failing is, and what a sharp case is.
// It follows the meaning of conditions from their trees and uses nothing of kb/sat, nor of the rule language's
// compiler.
func (b *base) smt() string {
	w := &smtWriter{b: b, asideOf: map[string]bool{}}
	for _, m := range b.quantities {
		w.quantity(m)
	}
	for _, name := range []string{"echo", "shade"} {
		w.choice(name, choices[name])
	}
	w.features()
	w.f("(declare-const here_mounted Bool) (declare-const is_mounted Bool)")
	w.f("(declare-const here_carat Bool) (declare-const carat Real) (assert (> carat 0))")
	// the place in claims; any other number is another word
	w.f("(declare-const here_claim Bool) (declare-const claim Int)")
	w.f("(declare-const day Real)")
	w.f("(define-fun sharp () Bool %s)", all(w.sharp))
	for i, r := range b.rules {
		w.rule(i, r)
	}
	return w.String()
}

// pairOf is when a condition holds, and when it fails.
type pairOf struct{ holds, fails string }

func (p pairOf) not() pairOf { return pairOf{p.fails, p.holds} }

func sure(text string) pairOf { return pairOf{text, "(not " + text + ")"} }

func all(parts []string) string {
	return "(and true" + strings.Join(append([]string{""}, parts...), " ") + ")"
}
func any1(parts []string) string {
	return "(or false" + strings.Join(append([]string{""}, parts...), " ") + ")"
}

func real(x float64) string {
	if x < 0 {
		return "(- " + real(-x) + ")"
	}
	return strconv.FormatFloat(x, 'f', 10, 64)
}

type smtWriter struct {
	strings.Builder
	b       *base
	sharp   []string
	asideOf map[string]bool // the observables of which it was written when they are set aside
}

func (w *smtWriter) f(format string, args ...any) { fmt.Fprintf(w, format+"\n", args...) }

// quantity: status 0 is missing, 1 inconclusive, 2 there. A reading is a point or an interval. Of an interval one end
// lies at a bound that can be read or one step beyond (a step is less than any two figures of a base are apart), and it
// leaves something of the span. No reading is 0 exactly: every uncertainty is above zero, and in 0 none is lost.
func (w *smtWriter) quantity(m *measure) {
	n, reach := m.name, m.reach()
	const step = 1e-6
	w.f("(declare-const st_%s Int) (assert (<= 0 st_%s 2)) (declare-const lo_%s Real) (declare-const hi_%s Real)", n, n,
		n, n)
	point := fmt.Sprintf("(and (= lo_%s hi_%s) (not (= lo_%s 0)) (<= %s lo_%s %s))", n, n, n, real(reach[0]), n,
		real(reach[1]))
	interval := fmt.Sprintf("(and (< lo_%s hi_%s) (<= lo_%s %s) (>= hi_%s %s) (< lo_%s %s) (> hi_%s %s))",
		n, n, n, real(reach[1]+step), n, real(reach[0]-step), n, real(m.span[1]), n, real(m.span[0]))
	w.f("(assert (=> (= st_%s 2) (or %s %s)))", n, point, interval)
	w.sharp = append(w.sharp, fmt.Sprintf("(=> (= st_%s 2) (= lo_%s hi_%s))", n, n, n))
}

// choice: what is left open, a Bool each.
func (w *smtWriter) choice(name string, words []string) {
	w.f("(declare-const st_%s Int) (assert (<= 0 st_%s 2))", name, name)
	var open, two []string
	for i, a := range words {
		w.f("(declare-const %s_%s Bool)", name, a)
		open = append(open, name+"_"+a)
		for _, b := range words[:i] {
			two = append(two, fmt.Sprintf("(and %s_%s %s_%s)", name, a, name, b))
		}
	}
	w.f("(assert (=> (= st_%s 2) %s))", name, any1(open))
	w.sharp = append(w.sharp, fmt.Sprintf("(=> (= st_%s 2) (not %s))", name, any1(two)))
}

func (w *smtWriter) features() {
	w.f("(declare-const st_marks Int) (assert (<= 0 st_marks 2))")
	for _, m := range marks {
		w.f("(declare-const seen_%s Bool) (declare-const vain_%s Bool) (assert (not (and seen_%s vain_%s)))", m, m, m,
			m)
		w.sharp = append(w.sharp, fmt.Sprintf("(=> (= st_marks 2) (or seen_%s vain_%s))", m, m))
	}
}

// ready is when a reading is there and not set aside. The first rule that reads an observable comes after all that set
// it aside.
func (w *smtWriter) ready(name string) string {
	if !w.asideOf[name] {
		w.asideOf[name] = true
		var by []string
		for i, r := range w.b.rules {
			if !r.draft && slices.Contains(r.aside, name) {
				by = append(by, fmt.Sprintf("fires_%d", i))
			}
		}
		w.f("(define-fun aside_%s () Bool %s)", name, any1(by))
	}
	return fmt.Sprintf("(and (= st_%s 2) (not aside_%s))", name, name)
}

func (w *smtWriter) rule(i int, r *rule) {
	force := []string{}
	if !r.since.IsZero() && !r.draft {
		force = append(force, fmt.Sprintf("(>= day %d)", r.since.Unix()))
	}
	if !r.until.IsZero() {
		force = append(force, fmt.Sprintf("(< day %d)", r.until.Unix()))
	}
	is, unless := pairOf{"true", "false"}, pairOf{"false", "true"}
	if r.cond != nil {
		is = w.of(r.cond)
	}
	if r.unless != nil {
		unless = w.of(r.unless)
	}
	in := all(force)
	w.f("(define-fun fires_%d () Bool (and %s %s %s))", i, in, is.holds, unless.fails)
	w.f("(define-fun fails_%d () Bool (or (not %s) %s %s))", i, in, is.fails, unless.holds)
}

// of is Kleene's strong logic on pairs.
func (w *smtWriter) of(e *expr) pairOf {
	var holds, fails []string
	for _, k := range e.kids {
		p := w.of(k)
		holds, fails = append(holds, p.holds), append(fails, p.fails)
	}
	switch e.op {
	case "and":
		return pairOf{all(holds), any1(fails)}
	case "or":
		return pairOf{any1(holds), all(fails)}
	case "not":
		return pairOf{fails[0], holds[0]}
	case "constant":
		return sure(strconv.FormatBool(e.yes))
	}
	return w.leaf(e)
}

func (w *smtWriter) leaf(e *expr) pairOf {
	isFact := slices.ContainsFunc(w.b.facts, func(f *fact) bool { return f.name == e.name })
	var p pairOf
	switch {
	case isFact:
		p = w.fact(e)
	case e.op == "seen" && !slices.Contains(readings, e.name):
		return sure("here_" + strings.TrimPrefix(e.name, "stone."))
	case e.op == "seen":
		return sure(w.ready(e.name))
	case e.op == "unclear":
		ready := w.ready(e.name)
		return sure(fmt.Sprintf("(and (> st_%s 0) (not %s))", e.name, ready))
	case e.op == "truth":
		p = pairOf{"(and here_mounted is_mounted)", "(and here_mounted (not is_mounted))"}
	case e.name == "claim":
		p = w.among("here_claim", claims, e.words, func(word string) string {
			return fmt.Sprintf("(= claim %d)",
				slices.Index(claims, word))
		})
	case e.op == "word":
		return w.word(e)
	case e.op == "feature":
		ready := w.ready("marks")
		return pairOf{"(and " + ready + " seen_" + e.words[0] + ")", "(and " + ready + " vain_" + e.words[0] + ")"}
	case e.op == "quantifier":
		return w.quantifier(e)
	default:
		return w.compare(e)
	}
	if (e.op == "word" || e.op == "truth") && !e.yes {
		return p.not()
	}
	return p
}

// among is of one word that is known, once it is there.
func (w *smtWriter) among(here string, _, words []string, is func(string) string) pairOf {
	var one []string
	for _, word := range words {
		one = append(one, is(word))
	}
	return pairOf{"(and " + here + " " + any1(one) + ")", "(and " + here + " (not " + any1(one) + "))"}
}

// word: it holds when nothing else is left open, and fails when none of the words is.
func (w *smtWriter) word(e *expr) pairOf {
	var in, out []string
	for _, c := range choices[e.name] {
		named := slices.ContainsFunc(e.words, func(word string) bool {
			return word == c ||
				slices.Contains(covering[word], c)
		})
		if named {
			in = append(in, e.name+"_"+c)
		} else {
			out = append(out, e.name+"_"+c)
		}
	}
	ready := w.ready(e.name)
	p := pairOf{"(and " + ready + " (not " + any1(out) + "))", "(and " + ready + " (not " + any1(in) + "))"}
	if !e.yes {
		return p.not()
	}
	return p
}

func (w *smtWriter) quantifier(e *expr) pairOf {
	words := e.words
	if e.rel == "all" { // nothing was seen beside these
		words = nil
		for _, m := range marks {
			if !slices.Contains(e.words, m) {
				words = append(words, m)
			}
		}
	}
	or := &expr{op: "or"}
	for _, m := range words {
		or.kids = append(or.kids, &expr{op: "feature", name: "marks", words: []string{m}})
	}
	if p := w.of(or); e.rel == "any" {
		return p
	}
	return w.of(or).not()
}

// compare: an interval lies wholly on one side of a cut, or the comparison is undecided.
func (w *smtWriter) compare(e *expr) pairOf {
	less := func(rel string, a float64) pairOf {
		here, lo, hi := "here_carat", "carat", "carat"
		if e.name != "stone.carat" {
			here, lo, hi = w.ready(e.name), "lo_"+e.name, "hi_"+e.name
		}
		one := func(end, rel string) string { return "(and " + here + " (" + rel + " " + end + " " + real(a) + "))" }
		switch rel {
		case "<":
			return pairOf{one(hi, "<"), one(lo, ">=")}
		case "<=":
			return pairOf{one(hi, "<="), one(lo, ">")}
		case ">":
			return pairOf{one(lo, ">"), one(hi, "<=")}
		}
		return pairOf{one(lo, ">="), one(hi, "<")}
	}
	both := func(p, q pairOf) pairOf {
		return pairOf{all([]string{p.holds, q.holds}), any1([]string{p.fails, q.fails})}
	}
	switch e.op {
	case "near":
		return both(less(">=", e.a-e.b), less("<=", e.a+e.b))
	case "equal":
		return both(less(">=", e.a), less("<=", e.a))
	case "chain":
		left, right, _ := strings.Cut(e.rel, " ")
		return both(less(strings.Replace(left, "<", ">", 1), e.a), less(right, e.b))
	}
	return less(e.rel, e.a)
}

// fact: a truth holds if one rule that gives it fires, and fails if all fail; a choice is there when exactly one of its
// words is given.
func (w *smtWriter) fact(e *expr) pairOf {
	f := w.b.facts[slices.IndexFunc(w.b.facts, func(f *fact) bool { return f.name == e.name })]
	given, failed := map[string][]string{}, []string{}
	for i, r := range w.b.rules {
		if word := r.gives[f.name]; word != "" && !r.draft {
			given[word] = append(given[word], fmt.Sprintf("fires_%d", i))
			failed = append(failed, fmt.Sprintf("fails_%d", i))
		}
	}
	if f.words == nil {
		if e.op == "seen" {
			return sure("true")
		}
		return pairOf{any1(given["true"]), all(failed)}
	}
	alone := func(want func(string) bool) string {
		var ways []string
		for _, word := range f.words {
			if !want(word) {
				continue
			}
			parts := []string{any1(given[word])}
			for _, other := range f.words {
				if other != word {
					parts = append(parts, "(not "+any1(given[other])+")")
				}
			}
			ways = append(ways, all(parts))
		}
		return any1(ways)
	}
	if e.op == "seen" {
		return sure(alone(func(string) bool { return true }))
	}
	return pairOf{alone(func(word string) bool { return slices.Contains(e.words, word) }),
		alone(func(word string) bool { return !slices.Contains(e.words, word) })}
}
