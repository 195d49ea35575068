// Package emit writes a document tree down again, as JSON or as YAML, in an order and with quotes of one's own. It is for
// tests that hold what is read to be independent of how it is written.
package emit

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"whystone/kb/doc"
)

// Emitter says how to write. The zero value writes JSON in the order of the tree.
type Emitter struct {
	YAML  bool
	Keys  func([]doc.Entry) []doc.Entry // the order of a mapping's keys; nil: as they stand
	Plain func() bool                   // whether YAML leaves out the quotes of a text that needs none; nil: never
}

var (
	numberShape = regexp.MustCompile(`^-?(0|[1-9][0-9]*)(\.[0-9]+)?([eE][-+]?[0-9]+)?$`)
	plainShape  = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_]*([ -][A-Za-z0-9_]+)*$`)
	plainWords  = []string{"true", "false", "yes", "no", "on", "off", "null", "y", "n"} // which some readers take for more than a text
)

// Text writes a tree on one line.
func (e Emitter) Text(n *doc.Node) string {
	switch n.Kind {
	case doc.Map:
		entries := n.Entries
		if e.Keys != nil {
			entries = e.Keys(entries)
		}
		parts := make([]string, len(entries))
		for i, entry := range entries {
			parts[i] = e.word(entry.Key.Text) + ": " + e.Text(entry.Value)
		}
		return "{" + strings.Join(parts, ", ") + "}"
	case doc.List:
		parts := make([]string, len(n.Items))
		for i, it := range n.Items {
			parts[i] = e.Text(it)
		}
		return "[" + strings.Join(parts, ", ") + "]"
	}
	if n.IsNull() {
		return "null"
	}
	bare := n.Style == doc.Plain || n.Style == doc.JSONNumber || n.Style == doc.JSONWord
	if bare && (numberShape.MatchString(n.Text) || n.Text == "true" || n.Text == "false") {
		return n.Text
	}
	return e.word(n.Text)
}

func (e Emitter) word(s string) string {
	if e.YAML && e.Plain != nil && plainShape.MatchString(s) && !slices.Contains(plainWords, strings.ToLower(s)) && e.Plain() {
		return s
	}
	return e.quoted(s)
}

// quoted writes a text so that either format reads it back whatever is in it. Of YAML's escapes those with eight digits are
// used; JSON has pairs of surrogates instead, so letters stand for themselves there.
func (e Emitter) quoted(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteString(`\` + string(r))
		case r < ' ' || r == 0x7F:
			fmt.Fprintf(&b, `\u%04X`, r)
		case e.YAML && r > 0x7F:
			fmt.Fprintf(&b, `\U%08X`, r)
		default:
			b.WriteRune(r)
		}
	}
	return b.String() + `"`
}
