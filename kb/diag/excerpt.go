package diag

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/width"
)

const tabStop = 4

// visible returns the rune as it may be sent to a terminal: control and format characters, which could move the cursor
// or turn the reading direction, become U+FFFD, and line ends become spaces.
func visible(r rune) rune {
	switch {
	case r == '\n' || r == '\t' || r == '\r':
		return ' '
	case r == '\u2028' || r == '\u2029' || unicode.IsControl(r) || unicode.Is(unicode.Cf, r):
		return utf8.RuneError
	}
	return r
}

// cells returns how many terminal cells a visible rune takes, after Unicode Standard Annex 11 (East Asian Width).
func cells(r rune) int {
	if r < utf8.RuneSelf {
		return 1
	}
	if unicode.In(r, unicode.Mn, unicode.Me) {
		return 0
	}
	switch width.LookupRune(r).Kind() {
	case width.EastAsianWide, width.EastAsianFullwidth:
		return 2
	}
	return 1
}

// Cells is how many terminal cells a text takes.
func Cells(s string) int {
	n := 0
	for _, r := range s {
		n += cells(r)
	}
	return n
}

// cell is a rune of a source line as shown, and whether the span covers it.
type cell struct {
	text   string
	cells  int
	marked bool
}

// excerpt returns the first line of the span as it is shown, and a marker of carets that stands under the span. Of a
// line that is too wide, a part around the span's start is shown.
func (t *textWriter) excerpt(sp Span, p Position, room int) (line, marker string) {
	row, first := lineCells(sp, p, room)
	start := 0
	if widthOf(row) > room {
		start = windowStart(row, first, room)
	}
	var l, m strings.Builder
	if start > 0 {
		l.WriteString("…")
		m.WriteString(" ")
		room--
	}
	for _, c := range row[start:] {
		if room -= c.cells; room < 1 {
			l.WriteString("…")
			break
		}
		l.WriteString(c.text)
		mark := " "
		if c.marked {
			mark = "^"
		}
		m.WriteString(strings.Repeat(mark, c.cells))
	}
	shown := strings.TrimRight(m.String(), " ")
	if shown == "" {
		shown = m.String() + "^" // an empty span, or one at the end of its line
	}
	return l.String(), shown
}

// lineCells lays out the line around the span: tabs become spaces up to the next stop. Only so much of the line as can
// be shown is laid out; first is the index of the cell at which the span starts.
func lineCells(sp Span, p Position, room int) (row []cell, first int) {
	src := sp.Source
	src.index()
	lineStart, lineEnd := src.lines[p.Line-1], src.lineEnd(p.Line-1)
	start := lineStart + p.ByteColumn - 1
	from := lineStart
	if start-from > 4*room {
		from = src.count(start - 4*room).offset
		row = append(row, cell{text: "…", cells: 1})
	}
	column := 0
	for at := from; at < lineEnd && at < start+8*room; {
		r, size := utf8.DecodeRune(src.Text[at:])
		if at == start {
			first = len(row)
		}
		c := cell{text: string(visible(r)), cells: cells(visible(r)), marked: at >= start && at < sp.End}
		if r == '\t' {
			c.cells = tabStop - column%tabStop
			c.text = strings.Repeat(" ", c.cells)
		}
		column += c.cells
		row = append(row, c)
		at += size
	}
	if start >= lineEnd {
		first = len(row)
	}
	if sp.End <= start && first < len(row) {
		row[first].marked = true // an empty span marks the place it stands at
	}
	return row, first
}

func widthOf(row []cell) int {
	n := 0
	for _, c := range row {
		n += c.cells
	}
	return n
}

// windowStart returns the index of the first cell to show so that the span's start stands about a third of the way in.
func windowStart(row []cell, first, room int) int {
	start, before := first, 0
	for start > 0 && before+row[start-1].cells < room/3 {
		start--
		before += row[start].cells
	}
	return start
}
