package syntax

import (
	"bytes"
	"strings"

	"whystone/kb/diag"
)

// scalarEnd finds where a scalar ends in the source: the library only tells where it starts. It is not ok when the
// source does not give the text that the library read.
func (c *converter) scalarEnd(n *Node, parent int) (end int, ok bool) {
	text, start := c.text, n.Span.Start
	m := &mapper{src: text, want: n.Text, at: start}
	switch n.Style {
	case Literal, Folded:
		end = blockEnd(text, start, parent)
		return end, sameLetters(text[LineEnd(text, start):max(end, LineEnd(text, start))], n.Text)
	case Single, Double:
		quote := byte('\'')
		if n.Style == Double {
			quote = '"'
		}
		if verbatim(text[start:], n.Text, quote) {
			return start + len(n.Text) + 2, true
		}
		ok = m.quoted(quote)
		return min(m.at+1, len(text)), ok && m.done()
	}
	if startsWith(text[start:], n.Text) {
		return start + len(n.Text), true // on one line, as most are
	}
	ok = m.plain()
	return m.at, ok
}

func startsWith(text []byte, prefix string) bool {
	return len(text) >= len(prefix) && string(text[:len(prefix)]) == prefix
}

// verbatim tells whether a text stands between its quotes just as it reads, as most do: on one line, and without
// anything that means something else.
func verbatim(text []byte, want string, quote byte) bool {
	end := len(want) + 1
	return len(text) > end && text[0] == quote && text[end] == quote && startsWith(text[1:], want) &&
		strings.IndexByte(want, quote) < 0 && !strings.ContainsAny(want, "\\\r\n") &&
		(len(text) == end+1 || text[end+1] != quote)
}

// sameLetters tells whether the lines of a block scalar are those of its text, white space aside. Comments may follow.
func sameLetters(lines []byte, text string) bool {
	i := 0
	for _, b := range []byte(text) {
		if strings.IndexByte(" \t\r\n", b) >= 0 {
			continue
		}
		for i < len(lines) && strings.IndexByte(" \t\r\n", lines[i]) >= 0 {
			i++
		}
		if i >= len(lines) || lines[i] != b {
			return false
		}
		i++
	}
	rest := bytes.TrimLeft(lines[i:], " \t\r\n")
	return len(rest) == 0 || rest[0] == '#'
}

// blockEnd finds the end of a block scalar, which starts with its header: the last line that is not blank and is
// indented more than the collection it stands in (at the top: at all, so that a document mark ends it).
func blockEnd(text []byte, start, parent int) int {
	end := LineEnd(text, start)
	for i := end + BreakAt(text, end); i < len(text); {
		n := spaces(text[i:])
		stop := LineEnd(text, i)
		isBlank := skipBlanks(text, i+n) == stop
		if !isBlank && n <= parent {
			break
		}
		if !isBlank {
			end = stop
		}
		i = stop + max(BreakAt(text, stop), 1)
	}
	return end
}

// closing returns the offset of the next closing bracket that is not in a comment.
func (c *converter) closing() int {
	text := c.text
	for i := c.at; i < len(text); i++ {
		switch text[i] {
		case '#':
			i = LineEnd(text, i)
		case ']', '}':
			return i
		}
	}
	return len(text)
}

// structural are the bytes that may stand between scalars.
var structural = [256]bool{' ': true, '\t': true, '\r': true, '\n': true, ',': true, '[': true, ']': true, '{': true,
	'}': true, ':': true, '-': true}

// gap checks what lies between the last scalar or bracket and the next, and moves there. Only white space, comments and
// the signs of YAML's structure may be there: anything else the library must have passed over.
func (c *converter) gap(next int) {
	text, i := c.text, c.at
	for ; i < next && !c.refused; i++ {
		switch b := text[i]; {
		case b == '#':
			i = LineEnd(text, i)
		case structural[b]:
		case i == 0 && bytes.HasPrefix(text, []byte("\uFEFF")):
			i += len("\uFEFF") - 1
		case bytes.HasPrefix(text[i:], []byte("...")):
			i += 2
		default:
			i = c.stray(i, next)
		}
	}
	c.at = max(c.at, next, min(i, len(text))) // a value left out can be placed inside a comment
}

// stray reports the rest of a line that stands between the values.
func (c *converter) stray(i, next int) int {
	end := min(LineEnd(c.text, i), next)
	sp := diag.Span{Source: c.src, Start: i, End: end}
	switch c.text[i] {
	case '%':
		c.errorf(diag.NotAllowed, sp, "a directive stands here, which is not read")
	case '?':
		d := c.errorf(diag.NotAllowed, sp, `a "? " key stands here, which is not read`)
		d.Detail = "Write the key in front of a colon."
	default:
		c.errorf(diag.BadSyntax, sp, "this text belongs to no value")
	}
	return end
}
