package syntax

import (
	"strings"
	"unicode/utf8"
)

// places returns for each byte of the scalar's text where it comes from: the byte at i from source bytes from[i] to
// to[i]. from has one entry more, for the end of the text. Each byte is checked against the source, so that ok means
// that the source, read by YAML's or JSON's rules, gives exactly this text.
func (n *Node) places() (from, to []int, ok bool) {
	text := n.Span.Source.Text
	m := &mapper{src: text[:n.Span.End], want: n.Text, at: n.Span.Start, from: make([]int, 0, len(n.Text)+1),
		to: make([]int, 0, len(n.Text))}
	switch n.Style {
	case Plain:
		ok = m.plain()
	case Single:
		ok = m.quoted('\'')
	case Double:
		ok = m.quoted('"')
	case Literal:
		m.src = text[:blankLinesEnd(text, n.Span.End)] // they may belong to it
		ok = m.literal()
	case JSONString:
		ok = m.jsonString()
	case JSONNumber, JSONWord:
		ok = m.copyWhile(func(byte) bool { return true })
	}
	return append(m.from, m.at), m.to, ok && m.done()
}

// mapper walks the source of one scalar and the text it must give side by side.
type mapper struct {
	src      []byte
	at       int // next source byte
	want     string
	matched  int   // bytes of want
	from, to []int // of these; nil where nobody asks
}

func (m *mapper) done() bool { return m.matched == len(m.want) }

// take matches text as coming from the next size source bytes.
func (m *mapper) take(text string, size int) bool {
	if !strings.HasPrefix(m.want[m.matched:], text) {
		return false
	}
	for i := 0; m.from != nil && i < len(text); i++ {
		m.from, m.to = append(m.from, m.at), append(m.to, m.at+size)
	}
	m.matched += len(text)
	m.at += size
	return true
}

// copyWhile matches source bytes that stand for themselves.
func (m *mapper) copyWhile(ok func(c byte) bool) bool {
	for m.at < len(m.src) && ok(m.src[m.at]) {
		if !m.take(string(m.src[m.at:m.at+1]), 1) {
			return false
		}
	}
	return true
}

// BreakAt returns the length of the line break at offset i: 2 for CRLF, 1 for LF or CR, 0 for none.
func BreakAt(src []byte, i int) int {
	switch {
	case i >= len(src):
		return 0
	case src[i] == '\r' && i+1 < len(src) && src[i+1] == '\n':
		return 2
	case src[i] == '\n' || src[i] == '\r':
		return 1
	}
	return 0
}

func blank(c byte) bool { return c == ' ' || c == '\t' }

func skipBlanks(src []byte, i int) int {
	for i < len(src) && blank(src[i]) {
		i++
	}
	return i
}

// fold matches a run of blanks with line breaks in it, as flow scalars read it: blanks around the breaks are dropped,
// one break is a space, and of several all but the first are kept. Blanks without a break stand for themselves. Where
// escaped is true a break before the run has been escaped away already: blanks are dropped, and each break is kept. The
// run is passed in one step, moved being false when there is none.
func (m *mapper) fold(escaped bool) (moved, ok bool) {
	i := skipBlanks(m.src, m.at)
	first := BreakAt(m.src, i)
	if first == 0 {
		if escaped {
			m.at = i
			return true, true
		}
		return i > m.at, m.copyWhile(blank)
	}
	m.at = i
	next := skipBlanks(m.src, i+first)
	if !escaped {
		if BreakAt(m.src, next) == 0 {
			ok = m.take(" ", first)
			m.at = next
			return true, ok
		}
		m.at = next
	}
	for size := BreakAt(m.src, m.at); size > 0; size = BreakAt(m.src, m.at) {
		if !m.take("\n", size) {
			return true, false
		}
		m.at = skipBlanks(m.src, m.at)
	}
	return true, true
}

// plain matches an unquoted scalar. Its end is where its text is used up.
func (m *mapper) plain() bool {
	for !m.done() {
		if moved, ok := m.fold(false); !ok {
			return false
		} else if moved {
			continue
		}
		if m.at >= len(m.src) || !m.take(string(m.src[m.at:m.at+1]), 1) {
			return false
		}
	}
	return true
}

// quoted matches a YAML scalar in quotes, and leaves at on the closing one.
func (m *mapper) quoted(quote byte) bool {
	if m.at >= len(m.src) || m.src[m.at] != quote {
		return false
	}
	m.at++
	for m.at < len(m.src) {
		moved, ok := m.fold(false)
		switch c := m.src[min(m.at, len(m.src)-1)]; {
		case !ok:
			return false
		case moved:
		case c == quote && quote == '\'' && m.at+1 < len(m.src) && m.src[m.at+1] == quote:
			ok = m.take("'", 2)
		case c == quote:
			return true
		case c == '\\' && quote == '"':
			ok = m.escape()
		default:
			ok = m.take(string(m.src[m.at:m.at+1]), 1)
		}
		if !ok {
			return false
		}
	}
	return false
}

// yamlEscapes are the escapes of one letter in YAML's double quotes.
var yamlEscapes = map[byte]string{'0': "\x00", 'a': "\a", 'b': "\b", 't': "\t", '\t': "\t", 'n': "\n", 'v': "\v",
	'f': "\f", 'r': "\r", 'e': "\x1b", ' ': " ", '"': "\"", '/': "/", '\\': "\\", 'N': "\u0085", '_': "\u00A0",
	'L': "\u2028", 'P': "\u2029"}

// escape matches an escape in YAML's double quotes, an escaped line break included.
func (m *mapper) escape() bool {
	if size := BreakAt(m.src, m.at+1); size > 0 {
		m.at += 1 + size
		_, ok := m.fold(true)
		return ok
	}
	if m.at+1 >= len(m.src) {
		return false
	}
	c := m.src[m.at+1]
	if digits := map[byte]int{'x': 2, 'u': 4, 'U': 8}[c]; digits > 0 {
		r, ok := hexAt(m.src, m.at+2, digits)
		return ok && m.take(string(r), 2+digits)
	}
	text, ok := yamlEscapes[c]
	return ok && m.take(text, 2)
}

// hexAt reads a number of so many hexadecimal digits.
func hexAt(src []byte, i, digits int) (rune, bool) {
	if i+digits > len(src) {
		return 0, false
	}
	var r rune
	for _, c := range src[i : i+digits] {
		switch {
		case c >= '0' && c <= '9':
			r = r<<4 | rune(c-'0')
		case c >= 'a' && c <= 'f':
			r = r<<4 | rune(c-'a'+10)
		case c >= 'A' && c <= 'F':
			r = r<<4 | rune(c-'A'+10)
		default:
			return 0, false
		}
	}
	return r, r >= 0 && r <= utf8.MaxRune
}

// LineEnd returns the offset of the first line break at or after i.
func LineEnd(src []byte, i int) int {
	for i < len(src) && src[i] != '\n' && src[i] != '\r' {
		i++
	}
	return i
}
