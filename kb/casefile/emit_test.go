package casefile

import (
	"fmt"
	"regexp"
	"strings"

	"whystone/kb/doc"
)

// emitter writes a document tree again, as JSON or as YAML, with the keys of its mappings in an order of one's own.
type emitter struct {
	yaml  bool
	order func([]doc.Entry) []doc.Entry
}

var numberShape = regexp.MustCompile(`^-?(0|[1-9][0-9]*)(\.[0-9]+)?([eE][-+]?[0-9]+)?$`)

func (e emitter) text(n *doc.Node) string {
	switch n.Kind {
	case doc.Map:
		return e.mapping(n)
	case doc.List:
		parts := make([]string, len(n.Items))
		for i, it := range n.Items {
			parts[i] = e.text(it)
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
	return e.quoted(n.Text)
}

func (e emitter) mapping(n *doc.Node) string {
	entries := n.Entries
	if e.order != nil {
		entries = e.order(entries)
	}
	parts := make([]string, len(entries))
	for i, entry := range entries {
		parts[i] = e.quoted(entry.Key.Text) + ": " + e.text(entry.Value)
	}
	return "{" + strings.Join(parts, ", ") + "}"
}

// quoted writes a text so that either format reads it back whatever is in it. Of YAML's escapes those with eight digits are
// used; JSON has pairs of surrogates instead, so letters stand for themselves there.
func (e emitter) quoted(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteString(`\` + string(r))
		case r < ' ' || r == 0x7F:
			fmt.Fprintf(&b, `\u%04X`, r)
		case e.yaml && r > 0x7F:
			fmt.Fprintf(&b, `\U%08X`, r)
		default:
			b.WriteRune(r)
		}
	}
	return b.String() + `"`
}
