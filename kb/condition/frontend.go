package condition

import (
	"cmp"
	"errors"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"

	"github.com/expr-lang/expr"
	"github.com/expr-lang/expr/checker"
	"github.com/expr-lang/expr/conf"
	"github.com/expr-lang/expr/file"
	"github.com/expr-lang/expr/parser"
	"github.com/expr-lang/expr/types"

	"whystone/kb/diag"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// Locate turns byte offsets in the text of a condition into a span of the file that holds it.
type Locate func(start, end int) diag.Span

// Reserved tells whether no observable, fact, figure or definition may be named by a word.
func Reserved(word string) bool { return slices.Contains(reserved, word) }

var reserved = sortedWith(formulaNames,
	"abs", "all", "and", "any", "claim", "contains", "count", "else", "endsWith", "false", "if", "in", "let", "matches",
	"material", "max", "min", "near", "nil", "none", "not", "or", "seen", "sqrt", "stake", "startsWith", "stone",
	"true", "unclear")

// frontEnd is expr's parser and checker, set up once for a scope. Its configuration caches types as it goes, so that
// one goroutine uses it at a time; conditions are compiled once, so nobody waits for long.
type frontEnd struct {
	mu     sync.Mutex
	config *conf.Config
}

func newFrontEnd(s *Scope) *frontEnd {
	all := types.Map{}
	for _, sym := range s.symbols {
		all[sym.Name] = exprType(sym.Kind)
	}
	env := nest(all)
	c := conf.CreateNew()
	c.WithEnv(env)
	c.Strict = true
	c.Optimize = false
	c.MaxNodes = MaxNodes
	expr.AsBool()(c)
	expr.WarnOnAny()(c)
	none := func(...any) (any, error) { return nil, errors.New("expr's machine is not used") }
	expr.Function("seen", none, new(func(any) bool))(c)
	expr.Function("unclear", none, new(func(any) bool))(c)
	expr.Function("sqrt", none, new(func(any) float64))(c)
	for name, f := range formulas {
		expr.Function(name, none, numeric(len(f.Takes)))(c)
	}
	expr.Function("near", none, new(func(any, any, any) bool))(c)
	return &frontEnd{config: c}
}

// nest turns {"ri.low": t} into {"ri": {"low": t}}. A name that is a value and has fields too, as a material's range
// is, is anything to expr; our own checks know better. What is a value itself besides is left unchecked by expr.
func nest(fields types.Map) types.Map {
	out, deeper := types.Map{}, map[string]types.Map{}
	for name, t := range fields {
		root, rest, dotted := cutDot(name)
		if !dotted {
			out[name] = t
			continue
		}
		if deeper[root] == nil {
			deeper[root] = types.Map{}
		}
		deeper[root][rest] = t
	}
	for root, m := range deeper {
		if _, both := out[root]; both {
			out[root] = types.Any // a quantity with ends of its own: expr's types have no such thing
			continue
		}
		out[root] = nest(m)
	}
	return out
}

func exprType(k vocab.Kind) types.Type {
	switch k {
	case vocab.Quantity:
		return types.Float64
	case vocab.Features:
		return types.Array(types.String)
	case vocab.Truth:
		return types.Bool
	default:
		return types.String
	}
}

func cutDot(name string) (root, rest string, dotted bool) { return strings.Cut(name, ".") }

// parse gives expr's tree of guarded text; a fresh parser each time, as a used one miscounts nodes.
func (f *frontEnd) parse(text string, scope *Scope, at *offsets, out *diag.List) *parser.Tree {
	f.mu.Lock()
	defer f.mu.Unlock()
	tree, err := parser.ParseWithConfig(text, f.config)
	if err == nil {
		return tree
	}
	reportSyntax(text, err, scope, at, out)
	return nil
}

// check lets expr's own checker see a condition that ours accepted. It finds nothing unless one of the two is wrong.
func (f *frontEnd) check(tree *parser.Tree, at *offsets, out *diag.List) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if _, err := checker.Check(tree, f.config); err != nil {
		var e *file.Error
		span := at.whole()
		msg := err.Error()
		if errors.As(err, &e) {
			span, msg = at.runes(e.From, e.To), e.Message
		}
		out.Errorf(diag.UnlikeTypes, span, "the types don't fit: %s", msg)
	}
}

func reportSyntax(text string, err error, scope *Scope, at *offsets, out *diag.List) {
	var e *file.Error
	if !errors.As(err, &e) {
		out.Errorf(diag.BadSyntax, at.whole(), "the condition can't be read: %s", err)
		return
	}
	span := at.runes(e.From, max(e.To, e.From+1))
	if strings.Contains(e.Message, "maximum allowed nodes") {
		out.Errorf(diag.TooLong, span, "the condition has more than %d parts", MaxNodes).
			Detail = "Split it: let smaller rules establish facts, and name those."
		return
	}
	if number, ok := numberIn(e.Message); ok {
		if i := strings.Index(text, number); i >= 0 {
			span = at.locate(i, i+len(number))
		}
		out.Errorf(diag.BadNumber, span, "the number %s can't be read, or is out of range", number)
		return
	}
	if strangeSigns(text, at.locate, out) || unclosed(text, at.locate, out) ||
		reportSplit(text, scope, at.locate, out) ||
		spoken(text, scope, at.locate, out) || reportWords(text, scope, at, out) {
		return
	}
	says := plainSyntax(e.Message)
	if says == endsEarly {
		span = at.last()
	}
	d := out.Errorf(diag.BadSyntax, span, "the condition can't be read here: %s", says)
	d.Detail = cmp.Or(unquoted(text, scope), syntaxHint(text, at.byteOf(e.From)), syntax.SeparatorAdviceAt(text, -1))
	if says == endsEarly && d.Detail == "" {
		d.Detail = "Something is to follow here: a value, or another part of the condition."
	}
}

// numberIn finds the number that expr's parser gave up on; it reports the place behind it.
func numberIn(msg string) (string, bool) {
	if !strings.Contains(msg, " literal: ") {
		return "", false
	}
	_, quoted, _ := strings.Cut(msg, "parsing ")
	number, err := strconv.QuotedPrefix(quoted)
	if err != nil {
		return "", false
	}
	return strings.Trim(number, `"`), true
}

const endsEarly = "it ends too early"

func plainSyntax(msg string) string {
	if msg == "unexpected token EOF" || msg == "unexpected end of expression" {
		return endsEarly
	}
	if rest, ok := strings.CutPrefix(msg, "unexpected token "); ok {
		if _, word, ok := strings.Cut(rest, "("); ok {
			return "unexpected " + strings.TrimSuffix(word, ")")
		}
	}
	return msg
}

// behindNumber matches a text that ends with a number.
var behindNumber = regexp.MustCompile(`(^|[^A-Za-z0-9_])[0-9]+(\.[0-9]+)? *$`)

func syntaxHint(text string, at int) string {
	if at < 0 || at >= len(text) {
		return ""
	}
	advice := syntax.SeparatorAdviceAt(text, at)
	switch {
	case advice != "":
		return advice
	case text[at] == '=':
		return "Equal is written ==; quantities are compared with <, <=, >, >= or near(x, value, tolerance)."
	case behindNumber.MatchString(text[:at]) && wordByte(text, at):
		return "A number has no unit behind it; parts of a condition are joined by \"and\" and \"or\"."
	case text[at] == '\'' || text[at] == '"':
		return "Two words or strings stand beside each other: is an \"and\", \"or\" or a comma missing?"
	}
	return ""
}
