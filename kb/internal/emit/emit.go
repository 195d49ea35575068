// Package emit writes a document tree down again as JSON, with keys in an order of one's own. It is for tests that hold
// what is read to be independent of how it is written; kb/syntax writes YAML.
package emit

import (
	"encoding/json"
	"strings"

	"whystone/kb/syntax"
)

// JSON writes a tree on one line. Numbers and truths are written as they were.
func JSON(n *syntax.Node) string {
	switch n.Kind {
	case syntax.Map:
		parts := make([]string, len(n.Entries))
		for i, e := range n.Entries {
			parts[i] = quoted(e.Key.Text) + ": " + JSON(e.Value)
		}
		return "{" + strings.Join(parts, ", ") + "}"
	case syntax.List:
		parts := make([]string, len(n.Items))
		for i, it := range n.Items {
			parts[i] = JSON(it)
		}
		return "[" + strings.Join(parts, ", ") + "]"
	}
	if n.IsNull() {
		return "null"
	}
	bare := n.Style == syntax.Plain || n.Style == syntax.JSONNumber || n.Style == syntax.JSONWord
	if bare && json.Valid([]byte(n.Text)) {
		return n.Text
	}
	return quoted(n.Text)
}

func quoted(s string) string {
	text, err := json.Marshal(s)
	if err != nil {
		panic(err) // no text is beyond JSON
	}
	return string(text)
}

// Reordered is a tree with the keys of every mapping in an order of one's own.
func Reordered(n *syntax.Node, order func([]syntax.Entry) []syntax.Entry) *syntax.Node {
	out := *n
	out.Entries, out.Items = nil, nil
	for _, e := range order(n.Entries) {
		out.Entries = append(out.Entries, syntax.Entry{Key: e.Key, Value: Reordered(e.Value, order)})
	}
	for _, it := range n.Items {
		out.Items = append(out.Items, Reordered(it, order))
	}
	return &out
}
