package syntax

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"go.yaml.in/yaml/v4"
	"go.yaml.in/yaml/v4/plugin/loaderlimits"

	"whystone/kb/diag"
)

// ParseYAML reads a YAML text and returns a node for each of its documents. It returns nil when the text can't be read;
// what is wrong is then in out. When it can be read but has things in it that are refused (a key given twice, an
// alias), they are reported and the nodes are returned all the same, so that more errors can be found at once.
func ParseYAML(src *diag.Source, out *diag.List) []*Node {
	if !readable(src, 0, len(src.Text), true, out) || tooMany(src, out) || unmerged(src, out) {
		return nil
	}
	roots, err := load(src.Text)
	if err != nil {
		reportYAML(src, err, out)
		return nil
	}
	return convert(src, src.Text, roots, out)
}

// convert turns the library's documents into ours. The text is that of the source, or the same with parts of it blank.
func convert(src *diag.Source, text []byte, roots []*yaml.Node, out *diag.List) []*Node {
	c := &converter{src: src, text: text, reporter: reporter{out: out}}
	c.nodes, c.entries, c.items = room(roots)
	docs := []*Node{}
	for _, root := range roots {
		for _, n := range root.Content {
			docs = append(docs, c.node(n, 0, 0))
		}
	}
	c.gap(len(text))
	return docs
}

// load parses every document. Whatever goes wrong inside the library, a panic included, comes back as an error.
func load(text []byte) (roots []*yaml.Node, err error) {
	defer func() {
		if r := recover(); r != nil {
			roots, err = nil, fmt.Errorf("the YAML reader failed: %v", r)
		}
	}()
	l, err := newLoader(text)
	if err != nil {
		return nil, err
	}
	for {
		var root yaml.Node
		switch err := l.Load(&root); {
		case errors.Is(err, io.EOF):
			return roots, nil
		case err != nil:
			return nil, err
		}
		roots = append(roots, &root)
	}
}

// newLoader is a variable so that a test can make it panic.
var newLoader = func(text []byte) (*yaml.Loader, error) {
	limits := loaderlimits.New(loaderlimits.DepthValue(MaxDepth), loaderlimits.AliasValue(0))
	return yaml.NewLoader(bytes.NewReader(text), yaml.WithPlugin(limits))
}

// converter turns the library's nodes into ours, in the order of the text. at is the end of the last scalar or bracket:
// what lies between it and the next one is checked, so that every byte of the text is accounted for.
type converter struct {
	src  *diag.Source
	text []byte // what was read of it
	reporter
	at      int
	refused bool // a tag or anchor was reported: what stands around them is not checked

	// What is to come of the library's nodes, made all at once.
	nodes   []Node
	entries []Entry
	items   []*Node
}

// room is as many nodes, entries and items as the library's nodes will take.
func room(roots []*yaml.Node) ([]Node, []Entry, []*Node) {
	nodes, entries, items := 0, 0, 0
	var count func(y *yaml.Node)
	count = func(y *yaml.Node) {
		nodes++
		if y.Kind == yaml.MappingNode {
			entries += len(y.Content) / 2
		} else {
			items += len(y.Content)
		}
		for _, kid := range y.Content {
			count(kid)
		}
	}
	for _, root := range roots {
		count(root)
	}
	return make([]Node, nodes), make([]Entry, entries), make([]*Node, items)
}

// take cuts off the first n of what is left.
func take[T any](left *[]T, n int) []T {
	first := (*left)[:n:n]
	*left = (*left)[n:]
	return first
}

// node converts one node. parent is the indentation of the collection it stands in, 0 at the top; it ends block
// scalars.
func (c *converter) node(y *yaml.Node, depth, parent int) *Node {
	start := c.src.Offset(y.Line, y.Column)
	n := &take(&c.nodes, 1)[0]
	n.Kind, n.Span = Scalar, diag.Span{Source: c.src, Start: start, End: start}
	switch {
	case depth > MaxDepth:
		n.bad = true
		reportTooDeep(c.src, start, c.out)
	case y.Kind == yaml.AliasNode:
		c.refuse(n, diag.AliasRefused, "an alias stands here")
	case y.Anchor != "":
		c.refuse(n, diag.AliasRefused, "an anchor stands here")
	case y.Style&yaml.TaggedStyle != 0 || y.Tag == "!":
		c.refuse(n, diag.NotAllowed, "a tag stands here")
	case y.Kind == yaml.MappingNode:
		n.Kind = Map
		c.collection(n, y, depth)
	case y.Kind == yaml.SequenceNode:
		n.Kind = List
		c.collection(n, y, depth)
	default:
		c.scalar(n, y, parent)
	}
	return n
}

// refuse reports an alias, anchor or tag with the word that it is.
func (c *converter) refuse(n *Node, code diag.Code, says string) {
	n.bad, c.refused = true, true
	text := c.text
	for n.Span.End < len(text) && strings.IndexByte(" \t\r\n,[]{}", text[n.Span.End]) < 0 {
		n.Span.End++
	}
	d := c.errorf(code, n.Span, "%s; only plain values are read", says)
	d.Detail = "Write the value out where it is meant."
	if code == diag.NotAllowed {
		d.Detail = "A text that begins with \"!\" stands in quotes; in a condition \"not\" says the same."
	}
}

func (c *converter) collection(n *Node, y *yaml.Node, depth int) {
	open := c.text[min(n.Span.Start, len(c.text)-1)]
	bracketed := y.Style&yaml.FlowStyle != 0 && (open == '[' || open == '{')
	if bracketed {
		c.gap(n.Span.Start)
		c.at = n.Span.Start + 1
	}
	indent := y.Column - 1
	if n.Kind == Map {
		var keys keySet
		n.Entries = take(&c.entries, len(y.Content)/2)[:0]
		for pair := range slices.Chunk(y.Content, 2) {
			key := c.key(pair[0], depth, indent)
			value := c.node(pair[1], depth+1, indent)
			if number, more, half := c.half(key); half && bracketed {
				if !more {
					c.halved(number)
				}
				continue
			}
			c.crowded(key, value)
			keys.add(n, Entry{key, value}, &c.reporter)
		}
	} else {
		n.Items = take(&c.items, len(y.Content))[:0]
		for _, item := range y.Content {
			n.Items = append(n.Items, c.node(item, depth+1, indent))
		}
	}
	if bracketed {
		c.gap(c.closing())
		c.at = min(c.at+1, len(c.text))
	}
	n.Span.End = max(c.at, n.Span.Start)
}

// key converts a key, which must be a text.
func (c *converter) key(y *yaml.Node, depth, indent int) *Node {
	n := c.node(y, depth+1, indent)
	switch {
	case n.bad:
	case n.Kind != Scalar:
		n.bad = true
		c.errorf(diag.WrongKind, n.Span, "a key must be text, but this is %s", n.describe())
		n.Kind, n.Entries, n.Items = Scalar, nil, nil
	case n.Style == Plain && n.Text == "<<":
		n.bad = true
		d := c.errorf(diag.AliasRefused, n.Span, "a merge key stands here; only plain values are read")
		d.Detail = "Write the keys out where they are meant."
	case n.leftOut():
		n.bad = true
		c.errorf(diag.WrongKind, n.Span, "a key is missing before the colon")
	default:
		if _, _, half := c.half(n); !half {
			n.bad = !n.quoteIt("a key", c.out)
		}
	}
	return n
}

// crowded reports a key such as {a:1} has: YAML takes all of it for a key without a value.
func (c *converter) crowded(key, value *Node) {
	if key.bad || key.Style != Plain || !value.leftOut() || !strings.Contains(key.Text, ":") {
		return
	}
	key.bad, value.bad = true, true
	d := c.errorf(diag.BadSyntax, key.Span, "the key %q has no value", short(key.Text))
	d.Detail = "Between brackets a colon needs a space after it: {a: 1}."
}

func (c *converter) scalar(n *Node, y *yaml.Node, parent int) {
	n.Text = y.Value
	switch y.Style {
	case yaml.SingleQuotedStyle:
		n.Style = Single
	case yaml.DoubleQuotedStyle:
		n.Style = Double
	case yaml.LiteralStyle:
		n.Style = Literal
	case yaml.FoldedStyle:
		n.Style = Folded
	}
	c.gap(n.Span.Start)
	var same bool
	n.Span.End, same = c.scalarEnd(n, parent)
	c.at = max(c.at, n.Span.End)
	if !same {
		n.bad, c.refused = true, true
		d := c.errorf(diag.BadSyntax, n.Span, "it is not clear where this text ends")
		d.Detail = "The lines of a block text are indented more than what it stands in."
	}
	if strings.Contains(n.Text, "\x00") {
		n.bad = true
		c.errorf(diag.BadEncoding, n.Span, "the text has a NUL character in it")
	}
}
