package condition

import (
	"cmp"
	"slices"
	"strings"

	"github.com/expr-lang/expr/ast"

	"whystone/kb/diag"
)

// The words of the language besides names, sorted.
var (
	functions = sortedWith(formulaNames, "abs", "all", "any", "count", "max", "min", "near", "none", "seen", "sqrt",
		"unclear")
	operators = []string{"and", "contains", "endsWith", "in", "matches", "not", "or", "startsWith"}
)

// noFunction refuses a call of what is no function of the language, at its name. "nto (x)" is a call to a parser.
func (c *compiler) noFunction(n *ast.CallNode, fn string) {
	near := cmp.Or(nearestFunction(fn, len(n.Arguments) == 1), diag.Nearest(fn, c.scope.definitions()))
	c.refuse(n.Callee, diag.NotAllowed, "there is no function %q", fn).Nearest = near
}

// nearestFunction is the function that was perhaps meant, or "not" before brackets with one thing in them.
func nearestFunction(fn string, one bool) string {
	if one {
		return diag.Nearest(fn, append(slices.Clone(functions), "not"))
	}
	return diag.Nearest(fn, functions)
}

// word is a part of a condition's text: of kind 'w' a word, dotted names whole, 's' a text in quotes, '0' a number,
// else the character itself.
type word struct {
	kind       byte
	text       string
	start, end int
}

func wordsOf(text string) []word {
	var out []word
	seen := significant(text) // comments are blank in it
	for i := 0; i < len(text); {
		w := word{kind: seen[i], start: i, end: i + 1}
		digit := seen[i] >= '0' && seen[i] <= '9'
		switch {
		case strings.IndexByte(" \t\r\n", seen[i]) >= 0:
			i++
			continue
		case strings.IndexByte("\"'`", text[i]) >= 0:
			w.kind, w.end = 's', closingQuote(text, i)
		case wordByte(text, i):
			for w.end < len(text) && (wordByte(text, w.end) || text[w.end] == '.' && wordByte(text, w.end+1)) {
				w.end++
			}
			if w.kind = 'w'; digit {
				w.kind = '0'
			}
		}
		w.text = text[w.start:w.end]
		out = append(out, w)
		i = w.end
	}
	return out
}

// ends tells whether a value may end with the word, begins whether one may begin with it.
func (w word) ends() bool {
	return w.kind == 'w' && !slices.Contains(operators, w.text) || strings.IndexByte("s0)]#", w.kind) >= 0
}

func (w word) begins() bool {
	return w.kind == 'w' && (w.text == "not" || !slices.Contains(operators, w.text)) ||
		strings.IndexByte("s0([#-+!", w.kind) >= 0
}

// reportWords looks for unknown words in a text that has no grammar: a misspelt "and" is a mere name to a parser, which
// then stumbles over what follows. It tells whether one of them explains the stumbling.
func reportWords(text string, scope *Scope, at *offsets, out *diag.List) (explained bool) {
	words := append(wordsOf(text), word{})
	before := word{} // what the word follows
	for i, w := range words[:len(words)-1] {
		next := words[i+1]
		value := before.ends() || before.text == "not" && next.kind == '[' // "not inn [...]"
		before2 := word{}
		if i > 1 {
			before2 = words[i-2]
		}
		before = w
		if w.kind != 'w' || scope.knows(w.text) {
			continue
		}
		says, near, isName := "nothing is called %q", "", false
		switch {
		case value:
			says, near = "there is no %q between two parts of a condition",
				nearestOperator(w.text, words[i-1], before2, next)
			if w.text == "is" && words[i-1].kind == 'w' && next.kind != '[' {
				near = "=="
				if next.text == "not" {
					near = "!="
				}
			}
			explained = explained || near != ""
			before = word{} // an operator was meant, after which a value begins
		case next.kind == '(':
			says, near = "there is no function %q", nearestFunction(w.text, true)
			explained = explained || slices.Contains([]string{"all", "any", "count", "none"}, near)
		case next.begins():
			if near = diag.Nearest(w.text, []string{"not"}); near != "" {
				before, explained = word{}, true
			}
		default:
			near, isName = diag.Nearest(w.text, scope.names), !Reserved(w.text)
		}
		if near != "" || isName {
			out.Errorf(diag.UnknownName, at.locate(w.start, w.end), says, w.text).Nearest = near
		}
	}
	return explained
}

// knows tells whether a word has a meaning in a condition.
func (s *Scope) knows(text string) bool {
	return s.Symbol(text) != nil || slices.Contains(s.roots, text) || slices.Contains(operators, text) ||
		slices.Contains(functions, text) || s.defs[text] != nil || text == "true" || text == "false"
}

// nearestOperator is the operator that was perhaps meant, by what stands before and behind it: a list or a set of
// features comes after "in", a text after "contains" and its like.
func nearestOperator(text string, before, before2, next word) string {
	fits := []string{"and", "or"}
	compared := slices.Contains([]string{"=", "w"}, string(before2.kind))
	switch {
	case next.kind == '[', before.kind == 's' && next.kind == 'w' && !compared:
		fits = []string{"in"}
	case next.kind == 's' && before.kind == 'w':
		fits = []string{"contains", "endsWith", "matches", "startsWith", "and", "or"}
	case next.text == "in":
		fits = []string{"not"}
	}
	return cmp.Or(diag.Nearest(text, fits), diag.Nearest(text, operators))
}
