package syntax

import "strings"

// literal matches a block scalar that keeps its lines. How far its content is indented is told from its first line that
// is not blank, which stands in the text without the indentation.
func (m *mapper) literal() bool {
	m.at = LineEnd(m.src, m.at)
	m.at += BreakAt(m.src, m.at)
	indent := m.indent()
	for !m.done() && m.at < len(m.src) {
		m.at += min(spaces(m.src[m.at:]), indent)
		if !m.copyWhile(func(c byte) bool { return c != '\n' && c != '\r' }) {
			return false
		}
		if m.done() {
			break
		}
		// The library ends a last line of blanks that has no line end in the source: that one has no length.
		if !m.take("\n", BreakAt(m.src, m.at)) {
			return false
		}
	}
	return m.done()
}

// indent returns by how many spaces the content of a literal is indented, from its first line that is not all spaces
// and the same line of the text. Where there is none, the longest line is compared with the longest of the text.
func (m *mapper) indent() int {
	longest := 0
	for i := m.at; i < len(m.src); {
		n := spaces(m.src[i:])
		size := BreakAt(m.src, i+n)
		if size == 0 && i+n < len(m.src) {
			return max(n-textIndent(m.want), 0)
		}
		longest = max(longest, n)
		i += n + size
	}
	width := 0
	for line := range strings.SplitSeq(m.want, "\n") {
		width = max(width, len(line))
	}
	return max(longest-width, 0)
}

// blankLinesEnd returns the end of the blank lines that follow i.
func blankLinesEnd(src []byte, i int) int {
	for {
		at := skipBlanks(src, i)
		size := BreakAt(src, at)
		if at == len(src) {
			return at
		}
		if size == 0 {
			return i
		}
		i = at + size
	}
}

// textIndent returns the spaces before the first character of a text that is neither a space nor a line break.
func textIndent(text string) int {
	first := len(text) - len(strings.TrimLeft(text, " \n"))
	return first - 1 - strings.LastIndexByte(text[:first], '\n')
}

func spaces(src []byte) int {
	n := 0
	for n < len(src) && src[n] == ' ' {
		n++
	}
	return n
}
