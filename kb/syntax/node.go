package syntax

import (
	"slices"

	"whystone/kb/diag"
)

// Limits of what is read.
const (
	MaxBytes  = 4 << 20 // of one text, or of one value of a text of many
	MaxDepth  = 64      // of mappings and lists in each other
	MaxValues = 250_000 // of one text, estimated before it is parsed
)

// Kind is what a node is.
type Kind uint8

// The kinds of node.
const (
	Map Kind = iota
	List
	Scalar
)

// Style is how a scalar is written. It means nothing for a Map or List.
type Style uint8

// The styles of a scalar. A JSONWord is true, false or null; a Field is one of a CSV text, and always text.
const (
	Plain Style = iota
	Single
	Double
	Literal
	Folded
	JSONString
	JSONNumber
	JSONWord
	Field
)

// Node is a value in a document. It must not be changed. Span covers the value as it is written, quotes, brackets and
// the header of a block scalar included; a value left out has an empty span where it would stand.
type Node struct {
	Kind    Kind
	Style   Style
	bad     bool // already reported: readers are silent about it
	Span    diag.Span
	Text    string  // of a Scalar: the decoded text
	Entries []Entry // of a Map: in the order of the text; of a key given twice the first
	Items   []*Node // of a List
	pieces  []Piece // of a Scalar that was put together
}

// Entry is a key of a Map, which is a Scalar, and its value.
type Entry struct{ Key, Value *Node }

// Get returns the value of a key, or nil when n is not a Map or has no such key.
func (n *Node) Get(key string) *Node {
	if n == nil {
		return nil
	}
	i := slices.IndexFunc(n.Entries, func(e Entry) bool { return e.Key.Text == key })
	if i < 0 {
		return nil
	}
	return n.Entries[i].Value
}

// IsNull tells whether the value is null, or left out in YAML. A nil node is null.
func (n *Node) IsNull() bool {
	if n == nil {
		return true
	}
	if n.Kind != Scalar {
		return false
	}
	switch n.Style {
	case JSONWord:
		return n.Text == "null"
	case Plain:
		return saysNothing(n.Text)
	}
	return false
}

// leftOut tells whether nothing stands where the value would be.
func (n *Node) leftOut() bool { return n.Kind == Scalar && n.Style == Plain && n.Text == "" }

// At returns the place in the source of Text[start:end] of a scalar, so that an error inside an expression that a
// scalar holds can be shown where it stands. Bytes that share an escape or a line fold share its place. It is exact for
// every style but Folded; there, and where the place can't be made sure of, it is the whole scalar.
func (n *Node) At(start, end int) diag.Span {
	if n.Kind != Scalar || n.Span.IsZero() {
		return n.Span
	}
	if n.pieces != nil {
		return n.atPieces(start, end)
	}
	from, to, ok := n.places()
	if !ok {
		return n.Span
	}
	start = min(max(start, 0), len(n.Text))
	end = min(max(end, start), len(n.Text))
	sp := diag.Span{Source: n.Span.Source, Start: from[start], End: from[start]}
	if end > start {
		sp.End = max(to[end-1], sp.Start)
	}
	return sp
}
