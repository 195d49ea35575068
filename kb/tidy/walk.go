package tidy

import (
	"bytes"
	"slices"

	"whystone/kb/syntax"
)

// node adds the tokens of a value that stands in a block level.
func (t *tokeniser) node(n *syntax.Node, in *level) {
	switch {
	case t.lost:
	case n.Kind == syntax.Scalar:
		t.value(n, in)
	case bytes.IndexByte([]byte("[{"), t.text[n.Span.Start]) >= 0:
		t.brackets(n, in)
	case t.depth > 0:
		t.pairs(n, in) // a pair in a list: [a: b]
	default:
		lv := &level{above: in, was: n.Span.Start - t.lineStart(n.Span.Start), now: in.now + step}
		if n.Kind == syntax.Map {
			t.pairs(n, lv)
			return
		}
		t.items(n, lv)
	}
}

// items adds the items of a block list. A dash parts two sheets if one of them at least takes several lines.
func (t *tokeniser) items(n *syntax.Node, lv *level) {
	sheets, long := slices.Contains(t.sheets, n), false
	for i, item := range n.Items {
		t.skip()
		first := len(t.tokens)
		t.sign(dash, '-', token{level: lv, column: lv.now})
		t.node(item, lv)
		if !sheets || t.lost {
			continue
		}
		before := long
		long = item.Kind == syntax.Map && slices.ContainsFunc(t.tokens[first+1:], t.breaks)
		t.tokens[first].sheet = i > 0 && (before || long)
	}
}

// breaks tells whether a token begins a line or holds a line break.
func (t *tokeniser) breaks(tok token) bool {
	return tok.kind != comment && (tok.own || bytes.ContainsAny(t.text[tok.start:tok.end], "\r\n"))
}

// pairs adds the keys and values of a mapping. Between brackets a key can do without a colon.
func (t *tokeniser) pairs(n *syntax.Node, lv *level) {
	for _, e := range n.Entries {
		t.words(e.Key, lv, lv.now)
		t.skip()
		if t.depth == 0 || t.next(':') {
			t.sign(colon, ':', token{level: lv, column: t.inner(), inFlow: t.depth > 0})
		}
		t.node(e.Value, lv)
		if t.depth > 0 {
			t.comma(lv)
		}
	}
}

// brackets adds a list or mapping in brackets.
func (t *tokeniser) brackets(n *syntax.Node, in *level) {
	open, shut := t.text[n.Span.Start], byte(']')
	if open == '{' {
		shut = '}'
	}
	outermost := t.depth == 0
	column := in.now + step
	if !outermost {
		column = t.inner()
	}
	o := t.sign(opener, open, token{level: in, column: column, inFlow: !outermost})
	if outermost {
		t.flow = flow{base: in.now, least: 1}
		if o.own || in.above == nil {
			t.flow = flow{base: in.now + step}
		}
	}
	t.depth++
	if n.Kind == syntax.Map {
		t.pairs(n, in)
	}
	for _, item := range n.Items {
		t.node(item, in)
		t.comma(in)
	}
	t.skip()
	t.depth--
	t.sign(closer, shut, token{level: in, column: t.inner(), inFlow: !outermost})
}

// flow says where the lines between brackets stand.
type flow struct {
	base  int // the column that they count from
	least int // the fewest steps from there
}

// inner is the column of a line between the brackets that are open now, or of a key's colon.
func (t *tokeniser) inner() int {
	return t.flow.base + step*max(t.depth, t.flow.least)
}

func (t *tokeniser) comma(lv *level) {
	if t.skip(); t.next(',') {
		t.sign(comma, ',', token{level: lv, column: t.inner(), inFlow: true})
	}
}

func (t *tokeniser) next(c byte) bool { return t.at < len(t.text) && t.text[t.at] == c }

// value adds a scalar that is not a key of a block mapping; nothing for one that is left out.
func (t *tokeniser) value(n *syntax.Node, in *level) {
	switch {
	case n.Style == syntax.Literal || n.Style == syntax.Folded:
		t.blockText(n, in)
	case n.Span.End > n.Span.Start:
		t.words(n, in, in.now+step)
	}
}

// words adds a key or a value that is not a block text.
func (t *tokeniser) words(n *syntax.Node, lv *level, column int) {
	t.skip()
	if t.at != n.Span.Start {
		t.lost = true
		return
	}
	further := max(lv.now+step, step)
	if t.depth > 0 {
		column = t.inner()
		further = column + step
	}
	t.add(token{kind: scalar, start: n.Span.Start, end: n.Span.End, level: lv, column: column, inFlow: t.depth > 0,
		style: n.Style, further: further})
}

// sheetKeys are the keys of top-level lists whose items are sheets.
var sheetKeys = []string{"rules", "materials", "tests", "tables"}

func sheetLists(root *syntax.Node) (lists []*syntax.Node) {
	for _, e := range root.Entries {
		if e.Value.Kind == syntax.List && slices.Contains(sheetKeys, e.Key.Text) {
			lists = append(lists, e.Value)
		}
	}
	return lists
}
