package engine_test

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"github.com/expr-lang/expr/ast"
	"github.com/expr-lang/expr/parser"
)

// The rule language naively: the tree that expr's parser gives of a condition's text, walked with Kleene's tables.

// tree is a condition or an expression as parsed.
type tree = ast.Node

// parse reads a text once.
func (n *naive) parse(text string) tree {
	if n.parsed[text] == nil {
		t, err := parser.Parse(text)
		if err != nil {
			panic(err)
		}
		n.parsed[text] = t.Node
	}
	return n.parsed[text]
}

// verity is what a condition comes to.
type verity int

// What is faulty is undecided because arithmetic failed in it.
const (
	isUndecided verity = iota
	isHolding
	isFailing
	isFaulty
)

func verityOf(is bool) verity {
	if is {
		return isHolding
	}
	return isFailing
}

// decided is "a comparison holds or fails only when the interval lies wholly on one side".
func decided(holds, fails bool) verity {
	switch {
	case holds:
		return isHolding
	case fails:
		return isFailing
	}
	return isUndecided
}

// and: "`fails and undecided` is `fails`".
func (a verity) and(b verity) verity {
	switch {
	case a == isFailing || b == isFailing:
		return isFailing
	case a == isFaulty || b == isFaulty:
		return isFaulty
	case a == isUndecided || b == isUndecided:
		return isUndecided
	}
	return isHolding
}

// not: "`not undecided` is `undecided`".
func (a verity) not() verity {
	switch a {
	case isHolding:
		return isFailing
	case isFailing:
		return isHolding
	}
	return a
}

// or: "`holds or undecided` is `holds`".
func (a verity) or(b verity) verity { return a.not().and(b.not()).not() }

// meaning is what a name stands for. Of readings that stand side by side (places, the two rays) there is one entry
// each.
type meaning struct {
	here     bool // usable
	tried    bool // and stayed inconclusive, or set aside, or rules disagree
	amounts  []amount
	choices  []set // the plain choices that each leaves open
	features []looked
	truth    verity
	text     string
	covers   map[string][]string
}

type set map[string]bool

type looked struct{ seen, unseen set }

func setOf(words ...string) set {
	out := set{}
	for _, w := range words {
		out[w] = true
	}
	return out
}

// wording walks conditions for one case, or for one material.
type wording struct {
	of func(name string) meaning
	// uncertainty of a sum of readings, each with its derivative
	u func(parts map[string]float64) float64
	// near tells that two numbers lie so close that rounding may decide.
	near func(a, b float64)
	met  map[string]bool // what came up, to be counted
}

// nameOf is a name as written, dots and all, or nothing.
func nameOf(t tree) string {
	switch t := t.(type) {
	case *ast.IdentifierNode:
		return t.Value
	case *ast.MemberNode:
		if p, ok := t.Property.(*ast.StringNode); ok {
			return nameOf(t.Node) + "." + p.Value
		}
	}
	return ""
}

// is the truth of a condition.
func (w *wording) is(t tree) verity {
	switch t := t.(type) {
	case *ast.BoolNode:
		return verityOf(t.Value)
	case *ast.UnaryNode:
		return w.is(t.Node).not()
	case *ast.CallNode:
		return w.called(nameOf(t.Callee), t.Arguments)
	case *ast.BinaryNode:
		switch t.Operator {
		case "and", "&&":
			return w.is(t.Left).and(w.is(t.Right))
		case "or", "||":
			return w.is(t.Left).or(w.is(t.Right))
		case "<", "<=", ">", ">=":
			return w.compared(t.Operator, t.Left, t.Right)
		case "==":
			return w.among(t.Left, t.Right)
		case "!=":
			return w.among(t.Left, t.Right).not()
		case "in":
			if _, ok := t.Left.(*ast.StringNode); ok {
				return w.seenIn(t.Left, t.Right)
			}
			return w.among(t.Left, t.Right)
		case "contains", "startsWith", "endsWith", "matches":
			return w.texts(t.Operator, t.Left, t.Right)
		}
	}
	if name := nameOf(t); name != "" {
		m := w.of(name)
		if !m.here { // "a leaf that names an absent, inconclusive or set-aside reading is `undecided`"
			return isUndecided
		}
		return m.truth
	}
	panic(fmt.Sprintf("the second implementation knows no %T: %s", t, t))
}

// called: "`seen(x)` is whether x has a usable reading, `unclear(x)` whether it was tried and stayed inconclusive or
// was set aside; neither is ever undecided." near(x, v, t) is |x - v| <= t.
func (w *wording) called(name string, args []tree) verity {
	switch name {
	case "seen":
		return verityOf(w.of(nameOf(args[0])).here)
	case "unclear":
		m := w.of(nameOf(args[0]))
		return verityOf(!m.here && m.tried)
	case "near":
		sum := func(op string) tree { return &ast.BinaryNode{Operator: op, Left: args[1], Right: args[2]} }
		return w.compared(">=", args[0], sum("-")).and(w.compared("<=", args[0], sum("+")))
	}
	panic("the second implementation knows no function " + name)
}

// wordsOf lists the words of a string or a list of strings.
func wordsOf(t tree) (out []string) {
	switch t := t.(type) {
	case *ast.StringNode:
		return []string{t.Value}
	case *ast.ArrayNode:
		for _, it := range t.Nodes {
			out = append(out, wordsOf(it)...)
		}
	}
	return out
}

// among: a choice is one of some words, where each of its readings leaves open nothing else; it fails where none of
// them leaves room for one.
func (w *wording) among(name, words tree) verity {
	m := w.of(nameOf(name))
	if !m.here {
		return isUndecided
	}
	if m.text != "" {
		return verityOf(slices.Contains(wordsOf(words), m.text))
	}
	wanted := set{}
	for _, word := range wordsOf(words) {
		for _, plain := range plainOf(m.covers, word) {
			wanted[plain] = true
		}
	}
	all, none := true, true
	for _, open := range m.choices {
		for plain := range open {
			all, none = all && wanted[plain], none && !wanted[plain]
		}
	}
	return decided(all, none)
}

// plainOf: "A choice may `cover` others".
func plainOf(covers map[string][]string, word string) []string {
	if c := covers[word]; c != nil {
		return c
	}
	return []string{word}
}

// seenIn: "A listed feature was seen; an unlisted one says nothing, unless `looked_for` names it."
func (w *wording) seenIn(feature, name tree) verity {
	m := w.of(nameOf(name))
	if !m.here {
		return isUndecided
	}
	f := wordsOf(feature)[0]
	seen, unseen := true, true
	for _, l := range m.features {
		seen, unseen = seen && l.seen[f], unseen && l.unseen[f]
	}
	return decided(seen, unseen)
}

func (w *wording) texts(op string, name, with tree) verity {
	m := w.of(nameOf(name))
	if !m.here {
		return isUndecided
	}
	arg := wordsOf(with)[0]
	switch op {
	case "contains":
		return verityOf(strings.Contains(m.text, arg))
	case "startsWith":
		return verityOf(strings.HasPrefix(m.text, arg))
	case "endsWith":
		return verityOf(strings.HasSuffix(m.text, arg))
	}
	return verityOf(regexp.MustCompile(arg).MatchString(m.text))
}

// visited gathers the nodes of a tree.
type visited []tree

func (v *visited) Visit(t *tree) { *v = append(*v, *t) }

// names lists the names in a condition, and the features it asks for, by observable.
func names(t tree) (out []string, features map[string][]string) {
	var all visited
	ast.Walk(&t, &all)
	inner := map[tree]bool{}
	for _, t := range all {
		if m, ok := t.(*ast.MemberNode); ok {
			inner[m.Node] = true
		}
		if c, ok := t.(*ast.CallNode); ok {
			inner[c.Callee] = true
		}
	}
	features = map[string][]string{}
	for _, t := range all {
		if name := nameOf(t); name != "" && !inner[t] && !slices.Contains(out, name) {
			out = append(out, name)
		}
		if b, ok := t.(*ast.BinaryNode); ok && b.Operator == "in" {
			if word, ok := b.Left.(*ast.StringNode); ok {
				features[nameOf(b.Right)] = append(features[nameOf(b.Right)], word.Value)
			}
		}
	}
	return out, features
}
