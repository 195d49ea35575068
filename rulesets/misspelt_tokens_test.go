package rulesets_test

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// token is a word of the shipped files that somebody may misspell.
type token struct {
	file int    // in the list of files
	unit string // a sheet, or a part of one that is read by itself: one word of each unit is misspelt at a time
	// words of one turn don't hide each other: they are looked at in one stage of loading and lie equally deep
	turn  int
	class string
	among string // what words it is one of: its class, or an observable
	start int    // in the file, quotes aside
	text  string
}

func (k token) end() int { return k.start + len(k.text) }

// tokens finds the words that can be misspelt of the files.
type tokens struct {
	t      testing.TB
	rs     *kb.Ruleset
	file   int
	unit   string
	depth  int // of the unit
	list   []token
	left   map[string]int // how many words are left out, by class
	places []*regexp.Regexp
}

func tokensOf(t testing.TB, rs *kb.Ruleset, files []kb.File) *tokens {
	w := &tokens{t: t, rs: rs, left: map[string]int{}}
	for _, p := range places {
		w.places = append(w.places, regexp.MustCompile("^("+p.pattern+")$"))
	}
	for i, f := range files {
		var found diag.List
		for _, root := range syntax.ParseYAML(f.Source, &found) {
			w.file, w.unit = i, f.Path
			w.node("", root, nil)
		}
	}
	return w
}

func (w *tokens) class(place string) string {
	for i, re := range w.places {
		if re.MatchString(place) {
			return places[i].class
		}
	}
	w.t.Errorf("nothing says what stands at %q", place)
	return freeText
}

// node visits a value; o is the observable that it answers for, if it lies below one.
func (w *tokens) node(place string, n *syntax.Node, o *vocab.Observable) {
	switch n.Kind {
	case syntax.List:
		for i, it := range n.Items {
			w.within(it.Kind == syntax.Map, i, func() { w.node(place+"[]", it, o) })
		}
	case syntax.Map:
		w.entries(place, n, o)
	case syntax.Scalar:
		if n.Span.End > n.Span.Start {
			w.scalar(w.class(place), place, n, o)
		}
	}
}

func (w *tokens) entries(place string, n *syntax.Node, o *vocab.Observable) {
	class := w.class("key " + place)
	for i, e := range n.Entries {
		name, under := e.Key.Text, o
		own := chosen.MatchString(place)
		if own {
			name = "*"
			if found := w.rs.Vocabulary.Observable(e.Key.Text); found != nil {
				under = found
			}
		}
		if (place == "policy.claims.*" || place == "materials[].in_verdicts[]") && name == "colour" {
			under = w.rs.Vocabulary.Observable("colour")
		}
		as := class
		if class == "observable of a test" {
			if as = "observable"; !e.Value.Get("family").IsNull() {
				as = defines
			}
		}
		w.within(own || place == "policy", i, func() {
			w.scalar(as, "key "+place, e.Key, o)
			w.node(strings.TrimPrefix(place+"."+name, "."), e.Value, under)
		})
	}
}

// within visits what is a unit of its own, if it is one.
func (w *tokens) within(own bool, i int, visit func()) {
	unit := w.unit
	if own {
		w.unit, w.depth = fmt.Sprintf("%s.%d", unit, i), w.depth+1
		defer func() { w.unit, w.depth = unit, w.depth-1 }()
	}
	visit()
}

// scalar adds the words of a key or value.
func (w *tokens) scalar(class, place string, n *syntax.Node, o *vocab.Observable) {
	if class == answer {
		switch {
		case o == nil || o.Kind == vocab.Quantity:
			class = quantity
		case o.Kind == vocab.Choice:
			class = "choice"
		default:
			class = "feature"
		}
	}
	switch {
	case class == condition:
		w.within(true, n.Span.Start, func() { w.condition(place, n) })
	case strings.HasPrefix(class, "("):
		w.left[class]++
	default:
		w.add(class, place, n, 0, len(n.Text))
		if class == "choice" || class == "feature" {
			w.among("of " + o.Name)
		}
	}
}

// among says of the token that was added last where it is from.
func (w *tokens) among(what string) { w.list[len(w.list)-1].among = what }

func (w *tokens) add(class, place string, n *syntax.Node, from, to int) {
	sp := n.At(from, to)
	k := token{file: w.file, unit: w.unit, turn: 10*stageOf(class, place) + w.depth, class: class, among: class,
		start: sp.Start, text: n.Text[from:to]}
	if sp.Text() != k.text {
		w.t.Errorf("%s: %q is written %q", sp, k.text, sp.Text())
		return
	}
	w.list = append(w.list, k)
}

// stageOf is the stage of loading that looks at a word.
func stageOf(class, place string) int {
	at := strings.TrimPrefix(place, "key ")
	switch {
	case class == "top key":
		return 0
	case class == "fact established":
		return 5
	case strings.HasPrefix(at, "tests[].needs[].if"), strings.HasPrefix(at, "tests[].yields.*.derived"):
		return 4
	case strings.HasPrefix(at, "policy.claims.*"):
		return 2
	case strings.HasPrefix(at, "tests"), strings.HasPrefix(at, "policy"):
		return 1
	case strings.HasPrefix(at, "materials"):
		return 2
	}
	return 3
}

var inCondition = regexp.MustCompile(`"[^"]*"|[A-Za-z_#][A-Za-z0-9_]*(\.[A-Za-z_][A-Za-z0-9_]*)*`)

var operators = []string{"and", "or", "not", "in", "contains", "startsWith", "endsWith", "matches"}

var functions = []string{"abs", "all", "any", "count", "max", "min", "near", "none", "seen", "sqrt", "unclear"}

// condition adds the words of a condition: names, functions, operators, and the words that names are compared with.
func (w *tokens) condition(place string, n *syntax.Node) {
	found := inCondition.FindAllStringIndex(n.Text, -1)
	for i, at := range found {
		text := n.Text[at[0]:at[1]]
		switch {
		case text == "#" || text == "true" || text == "false":
		case text[0] == '"':
			w.literal(place, n, at, found[:i], found[i+1:])
		case slices.Contains(operators, text):
			w.add("operator", place, n, at[0], at[1])
		case slices.Contains(functions, text) && strings.HasPrefix(n.Text[at[1]:], "("):
			w.add("function", place, n, at[0], at[1])
		case strings.HasPrefix(text, "stone."):
			w.add("name of the stone", place, n, at[0], at[1])
		case strings.HasPrefix(text, "material."):
			w.add("name of a material", place, n, at[0], at[1])
		case w.rs.Vocabulary.Observable(text) != nil:
			w.add("observable in a condition", place, n, at[0], at[1])
		case text == "claim" || text == "stake":
			w.add("claim or stake", place, n, at[0], at[1])
		case w.rs.Fact(text) != nil:
			w.add("fact in a condition", place, n, at[0], at[1])
		default:
			w.t.Errorf("%s: what is %q?", n.At(at[0], at[1]), text)
		}
	}
}

// literal adds a word in quotes, by what it is compared with: the nearest name before it, or behind it after "in".
func (w *tokens) literal(place string, n *syntax.Node, at []int, before, after [][]int) {
	name := func(list [][]int) string {
		for _, a := range list {
			text := n.Text[a[0]:a[1]]
			if text[0] != '"' && text != "#" && !slices.Contains(operators, text) && !slices.Contains(functions, text) {
				return text
			}
		}
		return ""
	}
	back := slices.Clone(before)
	slices.Reverse(back)
	with := name(back)
	if len(after) > 0 && n.Text[after[0][0]:after[0][1]] == "in" {
		with = name(after)
	}
	if len(before) > 0 && slices.Contains(operators[4:], n.Text[back[0][0]:back[0][1]]) {
		with = "" // a part of a word, or a pattern
	}
	o := w.rs.Vocabulary.Observable(strings.TrimPrefix(with, "material."))
	f := w.rs.Fact(with)
	switch {
	case o != nil && o.Kind == vocab.Features:
		w.add("feature in a condition", place, n, at[0]+1, at[1]-1)
		w.among("of " + o.Name)
	case o != nil:
		w.add("choice in a condition", place, n, at[0]+1, at[1]-1)
		w.among("of " + o.Name)
	case f != nil || with == "material.origin":
		w.add("choice in a condition", place, n, at[0]+1, at[1]-1)
	default:
		w.left[freeText]++
	}
}
