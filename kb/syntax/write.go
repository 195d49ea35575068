package syntax

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"whystone/kb/diag"
	"whystone/kb/english"
)

// NewText makes a text.
func NewText(text string) *Node { return &Node{Kind: Scalar, Style: Double, Text: text} }

// NewWord makes what is written without quotes: a number, true or false.
func NewWord(text string) *Node { return &Node{Kind: Scalar, Style: Plain, Text: text} }

// NewList makes a list.
func NewList(items ...*Node) *Node { return &Node{Kind: List, Items: items} }

// NewTexts makes a list of texts.
func NewTexts(texts ...string) *Node {
	return NewList(english.Each(texts, NewText)...)
}

// NewMap makes a mapping.
func NewMap(entries ...Entry) *Node { return &Node{Kind: Map, Entries: entries} }

// Keyed makes an entry of a mapping.
func Keyed(key string, value *Node) Entry { return Entry{Key: NewText(key), Value: value} }

// Width is how long a line of YAML should be.
const Width = 80

var (
	wordShape = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_]*([ -][A-Za-z0-9_]+)*$`)
	// which some readers take for more than a text
	notTexts = []string{"true", "false", "yes", "no", "on", "off", "null", "y", "n"}
)

// WriteText writes a text so that YAML reads it back, whatever is in it: without quotes where every reader takes it for
// text, else in double quotes, what is not printable as an escape.
func WriteText(s string) string {
	if wordShape.MatchString(s) && !slices.Contains(notTexts, strings.ToLower(s)) {
		return s
	}
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteString(`\` + string(r))
		case r == '\n':
			b.WriteString(`\n`)
		case r > utf8.RuneSelf && r != utf8.RuneError && unicode.IsPrint(r), r >= ' ' && r < 0x7F:
			b.WriteRune(r)
		default:
			fmt.Fprintf(&b, `\U%08X`, r)
		}
	}
	return b.String() + `"`
}

// WriteLine writes a tree as YAML on one line. A number or truth is written as it was, a date in quotes.
func WriteLine(n *Node) string {
	switch {
	case n.Kind != Scalar:
		ends := brackets(n)
		return ends[:1] + strings.Join(parts(n), ", ") + ends[1:]
	case n.IsNull():
		return "null"
	case n.bare():
		return n.Text
	}
	return WriteText(n.Text)
}

func brackets(n *Node) string { return map[Kind]string{Map: "{}", List: "[]"}[n.Kind] }

// parts are the entries of a mapping, or the items of a list, each on one line.
func parts(n *Node) []string {
	entry := func(e Entry) string { return WriteText(e.Key.Text) + ": " + WriteLine(e.Value) }
	return append(english.Each(n.Entries, entry), english.Each(n.Items, WriteLine)...)
}

// bare tells whether a scalar is written as a number or a truth, and not in quotes.
func (n *Node) bare() bool {
	var none diag.List
	if _, ok := n.Num(&none); ok {
		return true
	}
	_, ok := n.Bool(&none)
	return ok
}

// Write writes a mapping as a YAML file. What fits on one line stands on one, but for the values of the keys that are
// named: these are never laid on one line, nor is what holds them.
func Write(n *Node, open ...string) string {
	w := writer{open: open}
	w.entries(0, n)
	return w.String()
}

// WriteItem writes a mapping as an item of a list, as Write would, with its "-" at an indent.
func WriteItem(indent int, n *Node, open ...string) string {
	w := writer{open: open}
	w.item(indent, n)
	return w.String()
}

type writer struct {
	strings.Builder
	open []string
}

func (w *writer) entries(indent int, n *Node) {
	for _, e := range n.Entries {
		head := WriteText(e.Key.Text) + ":"
		if slices.Contains(w.open, e.Key.Text) && len(e.Value.Entries)+len(e.Value.Items) > 0 {
			w.apart(indent, head, e.Value)
		} else {
			w.value(indent, head, e.Value)
		}
	}
}

// value writes a value after its key: on the same line where it fits; else what is made of scalars on as many as it
// takes, and anything else a line for each of its own.
func (w *writer) value(indent int, head string, n *Node) {
	line := strings.Repeat(" ", indent) + head + " " + WriteLine(n)
	switch size := len(n.Entries) + len(n.Items); {
	case size == 0 || utf8.RuneCountInString(line) <= Width && !w.opens(n):
		w.WriteString(line + "\n")
	case size > 1 && ofScalars(n):
		w.wrapped(indent, head, n)
	default:
		w.apart(indent, head, n)
	}
}

// apart writes a mapping or list below its key.
func (w *writer) apart(indent int, head string, n *Node) {
	w.WriteString(strings.Repeat(" ", indent) + head + "\n")
	w.entries(indent+2, n)
	for _, it := range n.Items {
		w.item(indent+2, it)
	}
}

// item writes an item of a list: a mapping that takes several lines begins beside the "-".
func (w *writer) item(indent int, n *Node) {
	line := strings.Repeat(" ", indent) + "- " + WriteLine(n)
	if n.Kind != Map || len(n.Entries) == 0 || utf8.RuneCountInString(line) <= Width && !w.opens(n) {
		w.value(indent, "-", n)
		return
	}
	inner := writer{open: w.open}
	inner.entries(indent+2, n)
	w.WriteString(strings.Repeat(" ", indent) + "- " + inner.String()[indent+2:])
}

// opens tells whether somewhere within n a key is to be opened.
func (w *writer) opens(n *Node) bool {
	return slices.ContainsFunc(n.Items, w.opens) || slices.ContainsFunc(n.Entries, func(e Entry) bool {
		return slices.Contains(w.open, e.Key.Text) && len(e.Value.Entries)+len(e.Value.Items) > 0 || w.opens(e.Value)
	})
}

func ofScalars(n *Node) bool {
	return !slices.ContainsFunc(n.Items, func(it *Node) bool { return it.Kind != Scalar }) &&
		!slices.ContainsFunc(n.Entries, func(e Entry) bool { return e.Value.Kind != Scalar })
}

// wrapped writes a mapping or list in brackets over several lines.
func (w *writer) wrapped(indent int, head string, n *Node) {
	all, ends := parts(n), brackets(n)
	line := strings.Repeat(" ", indent) + head + " " + ends[:1]
	for i, part := range all {
		if part += ","; i == len(all)-1 {
			part = part[:len(part)-1] + ends[1:]
		}
		switch {
		case i == 0:
			line += part
		case utf8.RuneCountInString(line+" "+part) <= Width:
			line += " " + part
		default:
			w.WriteString(line + "\n")
			line = strings.Repeat(" ", indent+2) + part
		}
	}
	w.WriteString(line + "\n")
}
