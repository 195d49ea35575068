package condition

import (
	"errors"
	"strings"
	"sync"

	"github.com/expr-lang/expr"
	"github.com/expr-lang/expr/ast"
	"github.com/expr-lang/expr/checker"
	"github.com/expr-lang/expr/conf"
	"github.com/expr-lang/expr/file"
	"github.com/expr-lang/expr/parser"
	"github.com/expr-lang/expr/types"

	"whystone/kb/diag"
	"whystone/kb/vocab"
)

// Locate turns byte offsets in the text of a condition into a span of the file that holds it.
type Locate func(start, end int) diag.Span

// Functions of the language that expr lacks; abs, min, max, any, all, none and count are its own.
var functions = []string{"near", "seen", "sqrt", "unclear"}

// Reserved lists the words that no observable and no fact may be named by, sorted.
func Reserved() []string {
	return []string{
		"abs", "all", "and", "any", "claim", "contains", "count", "else", "endsWith", "false", "if", "in", "let",
		"matches", "material", "max", "min", "near", "nil", "none", "not", "or", "seen", "sqrt", "stake", "startsWith",
		"stone", "true", "unclear",
	}
}

// frontEnd is expr's parser and checker, set up once for a scope. Its configuration caches types as it goes, so that
// one goroutine uses it at a time; conditions are compiled once, so nobody waits for long.
type frontEnd struct {
	mu     sync.Mutex
	config *conf.Config
}

func newFrontEnd(s *Scope) *frontEnd {
	env, dotted := types.Map{}, map[string]types.Map{}
	for _, sym := range s.symbols {
		t := exprType(sym.Kind)
		root, field, isDotted := cutDot(sym.Name)
		if !isDotted {
			env[sym.Name] = t
			continue
		}
		if dotted[root] == nil {
			dotted[root] = types.Map{}
		}
		dotted[root][field] = t
	}
	for root, fields := range dotted {
		env[root] = nest(fields)
	}
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
	expr.Function("sqrt", none, new(func(float64) float64))(c)
	expr.Function("near", none, new(func(float64, float64, float64) bool))(c)
	return &frontEnd{config: c}
}

// nest turns {"ri.low": t} into {"ri": {"low": t}}.
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
func (f *frontEnd) parse(text string, at *offsets, out *diag.List) ast.Node {
	f.mu.Lock()
	defer f.mu.Unlock()
	tree, err := parser.ParseWithConfig(text, f.config)
	if err == nil {
		return tree.Node
	}
	reportSyntax(text, err, at, out)
	return nil
}

// check lets expr's own checker see a condition that ours accepted. It finds nothing unless one of the two is wrong.
func (f *frontEnd) check(text string, at *offsets, out *diag.List) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if _, err := checker.ParseCheck(text, f.config); err != nil {
		var e *file.Error
		span := at.whole()
		msg := err.Error()
		if errors.As(err, &e) {
			span, msg = at.runes(e.From, e.To), e.Message
		}
		out.Errorf("unlike-types", span, "the types don't fit: %s", msg)
	}
}

func reportSyntax(text string, err error, at *offsets, out *diag.List) {
	var e *file.Error
	if !errors.As(err, &e) {
		out.Errorf("bad-syntax", at.whole(), "the condition can't be read: %s", err)
		return
	}
	span := at.runes(e.From, max(e.To, e.From+1))
	if strings.Contains(e.Message, "maximum allowed nodes") {
		out.Errorf("too-long", span, "the condition has more than %d parts", MaxNodes).
			Detail = "Split it: let smaller rules establish facts, and name those."
		return
	}
	d := out.Errorf("bad-syntax", span, "the condition can't be read here: %s", plainSyntax(e.Message))
	d.Detail = syntaxHint(text, at.byteOf(e.From))
}

func plainSyntax(msg string) string {
	msg = strings.ReplaceAll(msg, "unexpected token EOF", "it ends too early")
	msg = strings.ReplaceAll(msg, "unexpected end of expression", "it ends too early")
	if rest, ok := strings.CutPrefix(msg, "unexpected token "); ok {
		if _, word, ok := strings.Cut(rest, "("); ok {
			return "unexpected " + strings.TrimSuffix(word, ")")
		}
	}
	return msg
}

func syntaxHint(text string, at int) string {
	if at < 0 || at >= len(text) {
		return ""
	}
	digit := func(i int) bool { return i >= 0 && i < len(text) && text[i] >= '0' && text[i] <= '9' }
	switch {
	case text[at] == ',' && digit(at-1) && digit(at+1):
		return "Numbers are written with a point: 1.77, not 1,77."
	case text[at] == '=':
		return "A comparison is written == for words, and <, <=, >, >= or near(x, value, tolerance) for quantities."
	case text[at] == '\'' || text[at] == '"':
		return "Two words or strings stand beside each other: is an \"and\", \"or\" or a comma missing?"
	}
	return ""
}

// offsets converts expr's rune offsets into spans of the file.
type offsets struct {
	text   string
	byRune []int // byte offset of each rune, and the length of the text at the end
	locate Locate
}

func newOffsets(text string, locate Locate) *offsets {
	o := &offsets{text: text, locate: locate}
	for i := range text {
		o.byRune = append(o.byRune, i)
	}
	o.byRune = append(o.byRune, len(text))
	return o
}

func (o *offsets) byteOf(r int) int { return o.byRune[max(0, min(r, len(o.byRune)-1))] }

func (o *offsets) runes(from, to int) diag.Span { return o.locate(o.byteOf(from), o.byteOf(to)) }

func (o *offsets) whole() diag.Span { return o.locate(0, len(o.text)) }

// extent is the range of bytes that a tree of expr's covers.
func (o *offsets) extent(n ast.Node) (start, end int) {
	v := &extentOf{from: n.Location().From, to: n.Location().To}
	ast.Walk(&n, v)
	return o.byteOf(v.from), o.byteOf(v.to)
}

func (o *offsets) span(n ast.Node) diag.Span { return o.locate(o.extent(n)) }

type extentOf struct{ from, to int }

// Visit widens the extent by one node.
func (v *extentOf) Visit(n *ast.Node) {
	loc := (*n).Location()
	v.from, v.to = min(v.from, loc.From), max(v.to, loc.To)
}
