package condition

import (
	"strings"
	"unicode/utf8"

	"github.com/expr-lang/expr/ast"

	"whystone/kb/diag"
)

// offsets converts expr's rune offsets into spans of the file.
type offsets struct {
	text   string
	seen   string // the text without what stands in quotes and comments
	byRune []int  // byte offset of each rune, and the length of the text at the end
	locate Locate
}

func newOffsets(text string, locate Locate) *offsets {
	o := &offsets{text: text, seen: significant(text), locate: locate, byRune: make([]int, 0, len(text)+1)}
	for i := range text {
		o.byRune = append(o.byRune, i)
	}
	o.byRune = append(o.byRune, len(text))
	return o
}

func (o *offsets) byteOf(r int) int { return o.byRune[max(0, min(r, len(o.byRune)-1))] }

func (o *offsets) runes(from, to int) diag.Span { return o.locate(o.byteOf(from), o.byteOf(to)) }

// last is the last letter that is neither blank nor in a comment.
func (o *offsets) last() diag.Span {
	end := len(strings.TrimRight(o.seen, " \t\r\n"))
	_, size := utf8.DecodeLastRuneInString(o.text[:end])
	return o.locate(end-size, end)
}

func (o *offsets) whole() diag.Span { return o.locate(0, len(o.text)) }

// extent is the range of bytes that a tree of expr's covers, its brackets included.
func (o *offsets) extent(n ast.Node) (start, end int) {
	v := &extentOf{from: n.Location().From, to: n.Location().To}
	ast.Walk(&n, v)
	return o.bracketed(o.byteOf(v.from), o.byteOf(v.to))
}

// bracketed widens a range to the brackets that are opened or closed in it: expr's places know of neither the end of a
// call or list nor of the parentheses around the first part of a condition.
func (o *offsets) bracketed(start, end int) (int, int) {
	unopened, open := 0, 0
	count := func(c byte) {
		switch {
		case c == '(' || c == '[' || c == '{':
			open++
		case c != ')' && c != ']' && c != '}':
		case open > 0:
			open--
		default:
			unopened++
		}
	}
	for i := start; i < end; i++ {
		count(o.seen[i])
	}
	to := end
	for ; open > 0 && to < len(o.seen); to++ {
		count(o.seen[to])
	}
	if open == 0 {
		end = to
	}
	for i := start - 1; unopened > 0 && i >= 0 && strings.IndexByte("( \t\r\n", o.seen[i]) >= 0; i-- {
		if o.seen[i] == '(' {
			start, unopened = i, unopened-1
		}
	}
	return start, end
}

func (o *offsets) span(n ast.Node) diag.Span { return o.locate(o.extent(n)) }

type extentOf struct{ from, to int }

// Visit widens the extent by one node.
func (v *extentOf) Visit(n *ast.Node) {
	loc := (*n).Location()
	v.from, v.to = min(v.from, loc.From), max(v.to, loc.To)
}
