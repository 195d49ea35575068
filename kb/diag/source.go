package diag

import (
	"sort"
	"strings"
	"sync"
	"unicode/utf8"
)

// Source is a text that diagnostics point into. It is immutable and safe for concurrent use; a Source must not be
// copied and Text must not be changed after the first position has been asked for.
type Source struct {
	Name string // shown to people: a file name, or "standard input"
	Key  string // of which the text is the value, where it is no more: a field or an observable of a form, a column of a table
	Text []byte

	once  sync.Once
	lines []int  // offset of each line's first byte
	plain []bool // by line: ASCII alone, so that columns are bytes
	marks []mark // a mark about every blockSize bytes
}

// blockSize bounds the walk behind one position, so that a text of one very long line is not read from its start again
// and again.
const blockSize = 512

// mark holds how many runes and UTF-16 units come before a byte offset, which is the start of a rune.
type mark struct{ offset, runes, units int }

// Position is a place in a text, counted from 1 in each unit. Column counts runes. A byte that is not part of valid
// UTF-8 counts as one rune and one UTF-16 unit.
type Position struct{ Line, Column, ByteColumn, UTF16Column int }

// NewSource returns the source of that name and text. The text is kept, not copied.
func NewSource(name string, text []byte) *Source { return &Source{Name: name, Text: text} }

const bom = "\uFEFF"

// index finds line starts and marks. Lines end with LF, CRLF or a lone CR. A byte order mark at the very start belongs
// to no line: columns of the first line are counted after it, as editors do.
func (s *Source) index() {
	s.once.Do(func() {
		start := 0
		if strings.HasPrefix(string(s.Text[:min(len(s.Text), len(bom))]), bom) {
			start = len(bom)
		}
		s.lines, s.plain = append(s.lines, start), append(s.plain, true)
		at := mark{offset: start}
		s.marks = append(s.marks, at)
		next := start + blockSize
		for at.offset < len(s.Text) {
			c := s.Text[at.offset]
			if c < utf8.RuneSelf {
				at.offset, at.runes, at.units = at.offset+1, at.runes+1, at.units+1
			} else {
				s.plain[len(s.plain)-1] = false
				at = s.step(at)
			}
			if c == '\n' || c == '\r' && (at.offset == len(s.Text) || s.Text[at.offset] != '\n') {
				s.lines, s.plain = append(s.lines, at.offset), append(s.plain, true)
			}
			if at.offset >= next {
				s.marks, next = append(s.marks, at), at.offset+blockSize
			}
		}
	})
}

// step moves a mark over one rune.
func (s *Source) step(m mark) mark {
	if s.Text[m.offset] < utf8.RuneSelf {
		return mark{m.offset + 1, m.runes + 1, m.units + 1}
	}
	r, size := utf8.DecodeRune(s.Text[m.offset:])
	units := 1
	if r > 0xFFFF {
		units = 2
	}
	return mark{m.offset + size, m.runes + 1, m.units + units}
}

// count returns the mark of the rune that holds the byte at offset.
func (s *Source) count(offset int) mark {
	i := sort.Search(len(s.marks), func(i int) bool { return s.marks[i].offset > offset })
	at := s.marks[max(i-1, 0)]
	for at.offset < offset {
		next := s.step(at)
		if next.offset > offset {
			break
		}
		at = next
	}
	return at
}

// lineEnd returns the offset of the end of line n (from 0), before its line end.
func (s *Source) lineEnd(n int) int {
	if n+1 >= len(s.lines) {
		return len(s.Text)
	}
	end := s.lines[n+1] - 1
	if end > s.lines[n] && s.Text[end] == '\n' && s.Text[end-1] == '\r' {
		end--
	}
	return end
}

// Position returns the place of a byte. An offset outside the text is moved to its nearest end; one inside a rune, a
// CRLF or the byte order mark stands for the start of it.
func (s *Source) Position(offset int) Position {
	s.index()
	offset = min(max(offset, s.lines[0]), len(s.Text))
	n := sort.Search(len(s.lines), func(i int) bool { return s.lines[i] > offset }) - 1
	offset = min(offset, s.lineEnd(n))
	if s.plain[n] {
		column := offset - s.lines[n] + 1
		return Position{n + 1, column, column, column}
	}
	from, at := s.count(s.lines[n]), s.count(offset)
	return Position{n + 1, at.runes - from.runes + 1, at.offset - from.offset + 1, at.units - from.units + 1}
}

// Offset returns the byte offset of a line and rune column, both from 1. A place outside the text is moved to the
// nearest one in it, a column past the end of its line to the line's end.
func (s *Source) Offset(line, column int) int {
	s.index()
	n := min(max(line, 1), len(s.lines)) - 1
	if line > len(s.lines) {
		return len(s.Text)
	}
	end := s.lineEnd(n)
	if s.plain[n] {
		return min(s.lines[n]+max(column, 1)-1, end)
	}
	at := s.count(s.lines[n])
	want := at.runes + max(column, 1) - 1
	i := sort.Search(len(s.marks), func(i int) bool { return s.marks[i].runes > want })
	if i > 0 && s.marks[i-1].runes > at.runes {
		at = s.marks[i-1]
	}
	for at.offset < end && at.runes < want {
		at = s.step(at)
	}
	return min(at.offset, end)
}

// Lines returns how many lines the text has: at least one.
func (s *Source) Lines() int {
	s.index()
	return len(s.lines)
}

// Line returns line n, from 1, without its line end; "" when there is no such line.
func (s *Source) Line(n int) string {
	s.index()
	if n < 1 || n > len(s.lines) {
		return ""
	}
	return string(s.Text[s.lines[n-1]:s.lineEnd(n-1)])
}

// Span is a range of bytes of a source, End exclusive. The zero Span means "no position".
type Span struct {
	Source     *Source
	Start, End int
}

// IsZero tells whether the span points nowhere.
func (sp Span) IsZero() bool { return sp.Source == nil }

// Position returns where the span starts; the zero Position when it points nowhere.
func (sp Span) Position() Position {
	if sp.IsZero() {
		return Position{}
	}
	return sp.Source.Position(sp.Start)
}

// Spot is where a span begins, as data: lines and columns count from 1.
type Spot struct {
	File   string `json:"file"`
	Line   int    `json:"line"`
	Column int    `json:"column"`
}

// Spot is where the span begins; zero for a zero span.
func (sp Span) Spot() Spot {
	if sp.IsZero() {
		return Spot{}
	}
	at := sp.Position()
	return Spot{File: sp.Source.Name, Line: at.Line, Column: at.Column}
}

// String returns "file:line:column", or "" when the span points nowhere.
func (sp Span) String() string {
	if sp.IsZero() {
		return ""
	}
	p := sp.Position()
	return sp.Source.Name + ":" + itoa(p.Line) + ":" + itoa(p.Column)
}

// Text returns the bytes of the span, as far as they lie within the source.
func (sp Span) Text() string {
	if sp.IsZero() {
		return ""
	}
	start := min(max(sp.Start, 0), len(sp.Source.Text))
	return string(sp.Source.Text[start:min(max(sp.End, start), len(sp.Source.Text))])
}
