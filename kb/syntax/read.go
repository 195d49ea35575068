package syntax

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"whystone/kb/diag"
)

// The readers below report a diagnostic that says what was expected and what is there, and return ok = false. A bad or
// nil node adds none.

// maxUnknown is how many unknown keys of one mapping are reported; nobody reads more.
const maxUnknown = 100

// Keys checks that n is a Map with no key but the known ones, and reports each that is not.
func (n *Node) Keys(out *diag.List, known ...string) bool {
	entries, ok := n.Map(out)
	reported := 0
	for _, e := range entries {
		if e.Key.bad || slices.Contains(known, e.Key.Text) {
			continue
		}
		ok = false
		if reported++; reported > maxUnknown {
			break
		}
		d := out.Errorf(diag.UnknownKey, e.Key.Span, "the key %q is not known here", short(e.Key.Text))
		d.Nearest = diag.Nearest(e.Key.Text, known)
		if d.Detail = oddLetter(e.Key.Text); d.Detail == "" {
			d.Detail = "Known keys: " + strings.Join(known, ", ") + "."
		}
	}
	return ok
}

// oddLetter says which letter or blank of a key is none of those that keys are made of, though it may look like one.
func oddLetter(key string) string {
	for _, r := range key {
		switch {
		case r < utf8.RuneSelf:
		case unicode.IsSpace(r) || unicode.Is(unicode.Cf, r):
			return fmt.Sprintf("A blank in it is no ordinary one (U+%04X). Write an ordinary one, or none.", r)
		default:
			return fmt.Sprintf("Its letter %q is U+%04X, of another alphabet, however like it looks. Type it anew.",
				string(r), r)
		}
	}
	return ""
}

// Misspells tells whether some key of a Map, which is none of the known ones, is nearest to key among them: what is
// missing is then there, and said to be misspelt.
func (n *Node) Misspells(key string, known ...string) bool {
	return n != nil && n.Get(key) == nil && slices.ContainsFunc(n.Entries, func(e Entry) bool {
		return !slices.Contains(known, e.Key.Text) && diag.NearestOf(e.Key.Text, []string{key}, known) == key
	})
}

// Format tells whether the number of a file's shape, under "format", is the known one. What says none is taken for it.
func (n *Node) Format(known int, out *diag.List) bool {
	f := n.Get("format")
	if f == nil {
		return true
	}
	v, ok := f.Int(out)
	if ok && v != known {
		out.Errorf(diag.UnsupportedFormat, f.Span, "format %d is not understood; this program reads format %d", v,
			known)
	}
	return ok && v == known
}

// NeedFormat is Format for what must say a number.
func (n *Node) NeedFormat(known int, out *diag.List) bool {
	if n.Get("format").IsNull() {
		out.Errorf(diag.MissingKey, n.Span, "the file says no format").Detail = fmt.Sprintf("Begin it with: format: %d",
			known)
		return false
	}
	return n.Format(known, out)
}

// Need returns the value of a key of a Map, and reports missing-key when it is absent.
func (n *Node) Need(out *diag.List, key string) *Node {
	v := n.Get(key)
	if v == nil && n != nil && !n.bad && n.Kind == Map {
		d := out.Errorf(diag.MissingKey, n.head(), "the key %q is missing", key)
		for _, e := range n.Entries {
			if diag.Nearest(e.Key.Text, []string{key}) != "" {
				d.Related = append(d.Related, diag.Related{Span: e.Key.Span,
					Says: "a key of a similar name stands here"})
			}
		}
	}
	return v
}

// head is the place at which something missing from a Map is reported: its first key, or all of it.
func (n *Node) head() diag.Span {
	if len(n.Entries) > 0 {
		return n.Entries[0].Key.Span
	}
	return n.Span
}

// Map returns the entries of a Map.
func (n *Node) Map(out *diag.List) ([]Entry, bool) {
	if n.is(Map, "a mapping (key: value)", out) {
		return n.Entries, true
	}
	return nil, false
}

// List returns the items of a List.
func (n *Node) List(out *diag.List) ([]*Node, bool) {
	if n.is(List, "a list", out) {
		return n.Items, true
	}
	return nil, false
}

// ListOrOne returns the items of a List, or n itself as the only item.
func (n *Node) ListOrOne(out *diag.List) ([]*Node, bool) {
	switch {
	case n == nil || n.bad:
		return nil, false
	case n.Kind == List:
		return n.Items, true
	case n.IsNull():
		n.unexpected("a value or a list", out)
		return nil, false
	}
	return []*Node{n}, true
}

// Str returns the text of a scalar. In YAML an unquoted word that some reader takes for a number, a truth, a date or
// nothing is refused: it must be put in quotes.
func (n *Node) Str(out *diag.List) (string, bool) {
	if !n.is(Scalar, "text", out) {
		return "", false
	}
	switch n.Style {
	case JSONNumber, JSONWord:
		n.unexpected("text in quotes", out)
		return "", false
	case Plain:
		if n.leftOut() {
			n.unexpected("text", out)
			return "", false
		}
		if !n.quoteIt("text", out) {
			return "", false
		}
	}
	return n.Text, true
}

// quoteIt reports an unquoted word that could be read as something other than text.
func (n *Node) quoteIt(what string, out *diag.List) bool {
	if n.Style != Plain {
		return true
	}
	kind := plainKind(n.Text)
	if kind == plainText {
		return true
	}
	d := out.Errorf(diag.QuoteIt, n.Span, "%s is expected, but %s without quotes can be read as %s", what,
		short(n.Text), kind)
	d.Detail = fmt.Sprintf("If the text is meant, put it in quotes: %q.", short(n.Text))
	return false
}

// Bool returns true or false, written as just that.
func (n *Node) Bool(out *diag.List) (value, ok bool) {
	if !n.is(Scalar, "true or false", out) {
		return false, false
	}
	if value, ok := n.Truth(); ok {
		return value, true
	}
	d := n.unexpected("true or false", out)
	if n.Style == Plain || n.Style == JSONString { // a quoted word was meant as text
		d.Nearest = diag.Nearest(n.Text, []string{"false", "true"})
	}
	for word, others := range map[string][]string{"true": {"yes", "y", "on", "1", "true"},
		"false": {"no", "n", "off", "0", "false"}} {
		if slices.Contains(others, strings.ToLower(n.Text)) {
			d.Nearest, d.Detail = "", "Write "+word+", without quotes."
		}
	}
	return false, false
}

// Truth tells whether a node is true or false, written as just that, and which. It reports nothing.
func (n *Node) Truth() (value, ok bool) {
	ok = n.Kind == Scalar && (n.Style == Plain || n.Style == JSONWord) && (n.Text == "true" || n.Text == "false")
	return ok && n.Text == "true", ok
}

// is checks the kind of a node.
func (n *Node) is(k Kind, what string, out *diag.List) bool {
	if n == nil || n.bad {
		return false
	}
	if n.Kind != k {
		n.unexpected(what, out)
	}
	return n.Kind == k
}

func (n *Node) unexpected(what string, out *diag.List) *diag.Diagnostic {
	return out.Errorf(diag.WrongKind, n.Span, "%s is expected here, but there is %s", what, n.describe())
}

// describe says what a node is, in a few words.
func (n *Node) describe() string {
	switch {
	case n.Kind == Map:
		return "a mapping"
	case n.Kind == List:
		return "a list"
	case n.leftOut():
		return "nothing"
	case n.Style == JSONNumber || n.Style == JSONWord || n.Style == Plain:
		return short(n.Text)
	}
	return "the text " + strconv.Quote(short(n.Text))
}

// short cuts a text that is too long to be shown within a sentence.
func short(s string) string {
	const longest = 60
	for i := range s {
		if i >= longest {
			return s[:i] + "…"
		}
	}
	return s
}
