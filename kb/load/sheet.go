package load

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/syntax"
)

// sheet is one material, test, rule or policy as read: a map with its place.
type sheet struct {
	*syntax.Node
	id    string
	layer string
	place kb.Place
	out   *diag.List
	table *tableSheet // of a table's sheet
	row   *rowSheet   // of a rule's, when it is a row of a table
	over  *sheet      // of a rule's: the one that replaces it on some days
	under *sheet      // the one whose over this is
	away  *sheet      // of a rule's: the entry of a higher layer that retires it for a time

	wrote *syntax.Node // that json says
	json  string
}

var (
	idShape    = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)
	nameShape  = regexp.MustCompile(`^[a-z][a-z0-9]*(_[a-z0-9]+)*$`)
	wordsShape = regexp.MustCompile(`^[^A-Z\s]+( [^A-Z\s]+)*$`)
)

func (s *sheet) errorf(code diag.Code, n *syntax.Node, format string, args ...any) *diag.Diagnostic {
	return s.out.Errorf(code, n.Span, format, args...)
}

// unknown reports a name that is none of those that are known.
func (s *sheet) unknown(code diag.Code, n *syntax.Node, name string, known []string, format string, args ...any) {
	d := s.errorf(code, n, format, args...)
	d.Nearest, d.Lacks = diag.NearestOrAbbreviated(name, known), name
}

// places are where it says what it says, by key.
func (s *sheet) places() map[string]diag.Span {
	out := map[string]diag.Span{}
	for _, e := range s.Entries {
		if !e.Value.IsNull() {
			out[e.Key.Text] = e.Value.Span
		}
	}
	if until := s.Get("withholds").Get("until"); !until.IsNull() {
		out[kb.UntilKey] = until.Span
	}
	return out
}

// written is the sheet as JSON with sorted keys.
func (s *sheet) written() string {
	if s.wrote != s.Node {
		s.wrote, s.json = s.Node, written(s.Node)
	}
	return s.json
}

// quiet is the sheet for reading again what was read before: what is wrong with it was told.
func (s *sheet) quiet() *sheet {
	quiet := *s
	quiet.out = &diag.List{}
	return &quiet
}

// text is a text under a key, or "".
func (s *sheet) text(n *syntax.Node, key string) string {
	return strings.TrimSpace(given(s, n.Get(key), (*syntax.Node).Str))
}

// needText is a text that must be there.
func (s *sheet) needText(n *syntax.Node, key string) string {
	if !s.has(n, key, "%q is missing", key) {
		return ""
	}
	t := s.text(n, key)
	if v := n.Get(key); t == "" && v.Kind == syntax.Scalar && strings.TrimSpace(v.Text) == "" {
		s.errorf(diag.MissingKey, v, "%q is empty", key)
	}
	return t
}

// has tells whether there is something under a key; what is missing is reported.
func (s *sheet) has(n *syntax.Node, key, format string, args ...any) bool {
	there := !n.Get(key).IsNull()
	if !there {
		s.errorf(diag.MissingKey, n, format, args...)
	}
	return there
}

// texts is a list of texts, or one that stands alone.
func (s *sheet) texts(n *syntax.Node, key string) []string {
	return english.Each(s.textNodes(n, key), func(it *syntax.Node) string { return strings.TrimSpace(it.Text) })
}

// textNodes are the same texts with their places.
func (s *sheet) textNodes(n *syntax.Node, key string) []*syntax.Node {
	var out []*syntax.Node
	for _, it := range s.listOrOne(n.Get(key)) {
		if _, ok := it.Str(s.out); ok {
			out = append(out, it)
		}
	}
	return out
}

// given reads what may be left out; what can't be read is reported.
func given[T any](s *sheet, n *syntax.Node, read func(*syntax.Node, *diag.List) (T, bool)) (out T) {
	if !n.IsNull() {
		out, _ = read(n, s.out)
	}
	return out
}

// list is the items of a list that may be left out.
func (s *sheet) list(n *syntax.Node) []*syntax.Node { return given(s, n, (*syntax.Node).List) }

// listOrOne is the same where one item may stand alone.
func (s *sheet) listOrOne(n *syntax.Node) []*syntax.Node {
	return given(s, n, (*syntax.Node).ListOrOne)
}

// entries are those of a map that may be left out.
func (s *sheet) entries(n *syntax.Node) []syntax.Entry { return given(s, n, (*syntax.Node).Map) }

// figure reads a number under a key; not ok when there is none, or none that can be read.
func (s *sheet) figure(n *syntax.Node, key string) (v *syntax.Node, x float64, ok bool) {
	if v = n.Get(key); !v.IsNull() {
		x, ok = v.Num(s.out)
	}
	return v, x, ok
}

// number is a number under a key, or the default.
func (s *sheet) number(n *syntax.Node, key string, otherwise float64) float64 {
	if _, x, ok := s.figure(n, key); ok {
		return x
	}
	return otherwise
}

// within is a number that must lie strictly between two others.
func (s *sheet) within(n *syntax.Node, key string, otherwise, low, high float64) float64 {
	v, x, ok := s.figure(n, key)
	if !ok {
		return otherwise
	}
	if x <= low || x >= high {
		if math.IsInf(high, 1) {
			s.errorf(diag.BadNumber, v, "%q must be above %g", key, low)
		} else {
			s.errorf(diag.BadNumber, v, "%q must lie between %g and %g", key, low, high)
		}
		return otherwise
	}
	return x
}

// atMost is a number from zero up to another.
func (s *sheet) atMost(n *syntax.Node, key string, otherwise, high float64) float64 {
	v, x, ok := s.figure(n, key)
	if !ok {
		return otherwise
	}
	if x < 0 || x > high {
		s.errorf(diag.BadNumber, v, "%q must lie from 0 to %g", key, high)
		return otherwise
	}
	return x
}

// pair is two numbers, low then high.
func (s *sheet) pair(v *syntax.Node, what string) ([2]float64, bool) {
	lo, hi, ok := v.Pair(s.out, "%s takes two numbers: [low, high]", what)
	if ok && lo > hi {
		s.errorf(diag.BadNumber, v, "the lower end of %s comes first", what)
		return [2]float64{}, false
	}
	return [2]float64{lo, hi}, ok
}

// flag is true or false under a key.
func (s *sheet) flag(n *syntax.Node, key string) bool {
	return given(s, n.Get(key), (*syntax.Node).Bool)
}

// oneOf is a text that must be one of a few words.
func oneOf[T ~string](s *sheet, n *syntax.Node, key string, otherwise T, words ...T) T {
	t := s.text(n, key)
	if t == "" {
		return otherwise
	}
	if !slices.Contains(words, T(t)) {
		known := texts(words)
		s.errorf(diag.UnknownName, n.Get(key), "%q is not one of %s", t,
			strings.Join(known, ", ")).Nearest = diag.Nearest(t, known)
		return otherwise
	}
	return T(t)
}

// texts are words as texts.
func texts[T ~string](words []T) []string {
	return english.Each(words, func(w T) string { return string(w) })
}

// sorted are words in order, without repeats.
func sorted(words []string) []string {
	slices.Sort(words)
	return slices.Compact(words)
}

// sheetKeys are the keys of each kind of sheet.
var sheetKeys = map[kb.SheetKind][]string{"rule": ruleKeys, "material": materialKeys, "test": testKeys,
	"table": tableKeys, "define": definitionKeys}

// noID reports a sheet without an id, by the misspelt key that holds it if there is one.
func (s *sheet) noID(kind kb.SheetKind) {
	if known := sheetKeys[kind]; s.Misspells(string(kind), known...) || kind == "material" &&
		s.Misspells("group", known...) {
		s.Keys(s.out, known...)
		return
	}
	if s.Get("retires") != nil {
		s.errorf(diag.MissingKey, s.Node, "retires: is no part of a %s", kind).Detail = fmt.Sprintf(
			"It is a list of its own at the top of a file: retires: [{%s: ID, because: why}].", kind)
		return
	}
	s.errorf(diag.MissingKey, s.Node, "this %s has no id: write %q first", kind, kind)
}

// locate maps offsets in a scalar that holds a condition to the file. It keeps the scalar, and not the document that it
// stands in.
func locate(n *syntax.Node) func(start, end int) diag.Span {
	own := *n
	return own.At
}

// condition compiles a condition; nil when none can be read.
func (s *sheet) condition(n *syntax.Node, scope *condition.Scope) *condition.Condition {
	if text, ok := s.conditionText(n); ok {
		defer s.commentInCondition(n, len(*s.out))
		return condition.Compile(text, locate(n), scope, s.out)
	}
	return nil
}

// commentInCondition adds to what was found since of a condition without quotes that YAML cuts it off at a "#".
func (s *sheet) commentInCondition(n *syntax.Node, before int) {
	if n.Style != syntax.Plain || n.Span.IsZero() || len(*s.out) == before {
		return
	}
	rest, _, _ := strings.Cut(string(n.Span.Source.Text[n.Span.End:]), "\n")
	comment := strings.TrimLeft(rest, " \t")
	if !strings.HasPrefix(comment, "#") || len(comment) == len(rest) {
		return
	}
	whole := strings.TrimRight(n.Text+rest, " \t\r")
	d := &(*s.out)[before]
	if d.Code != diag.BadSyntax || !reads(whole) {
		return // a comment, and nothing else
	}
	d.Detail = "In YAML a # behind a blank begins a comment, so the condition ends before it. Put all of it in " +
		"quotes: '" + strings.ReplaceAll(whole, "'", `"`) + "'."
	d.Summary = "the condition is cut off by a #"
	d.Span = diag.Span{Source: n.Span.Source, Start: n.Span.End + len(rest) - len(comment),
		End: n.Span.End + len(rest) - len(comment) + 1}
}

// reads tells whether a text has the grammar of a condition.
func reads(text string) bool {
	var out diag.List
	condition.Compile(text, func(int, int) diag.Span { return diag.Span{} }, condition.NewScope(nil), &out)
	return !slices.ContainsFunc(out, func(d diag.Diagnostic) bool { return d.Code == diag.BadSyntax })
}

// quantity compiles an expression whose value is a quantity; nil when none can be read.
func (s *sheet) quantity(n *syntax.Node, scope *condition.Scope) (*condition.Arith, *condition.Condition) {
	if text, ok := s.conditionText(n); ok {
		return condition.CompileQuantity(text, locate(n), scope, s.out)
	}
	return nil, nil
}

// conditionText is the text of a condition; folded scalars are refused, as places in them are lost.
func (s *sheet) conditionText(n *syntax.Node) (string, bool) {
	if n.Kind == syntax.Scalar && n.Style == syntax.Folded {
		s.errorf(diag.FoldedCondition, n, "a condition is not written as a folded block (\">\")").
			Detail = "Its line breaks are lost, and with them the places of errors. Use \"|\" or quotes."
		return "", false
	}
	if _, is := n.Truth(); is {
		return n.Text, true
	}
	return n.Str(s.out)
}
