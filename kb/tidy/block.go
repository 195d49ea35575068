package tidy

import (
	"bytes"
	"slices"

	"whystone/kb/syntax"
)

// indents says how the lines of a block text are indented, before and after.
type indents struct{ was, now int }

// blockText adds the tokens of a block text: its header, a comment behind that, and its lines. Lines of spaces only
// that follow belong to it if the header says so (+) or if they are longer than the indentation; its last line end
// never does.
func (t *tokeniser) blockText(n *syntax.Node, in *level) {
	t.skip()
	if t.at != n.Span.Start {
		t.lost = true
		return
	}
	end := t.at
	for end < len(t.text) && !isBlank(t.text[end]) && !isBreak(t.text[end]) {
		end++
	}
	signs := t.text[t.at+1 : end]
	keeps := bytes.IndexByte(signs, '+') >= 0
	t.add(token{kind: header, start: t.at, end: end, level: in, column: in.now + step, keeps: keeps})
	stop := syntax.LineEnd(t.text, end)
	if i := bytes.IndexByte(t.text[end:stop], '#'); i >= 0 {
		c := token{kind: comment, start: end + i, end: end + len(bytes.TrimRight(t.text[end:stop], " \t")), level: in,
			keeps: keeps}
		t.add(c)
	}
	start := breakEnd(t.text, stop)
	b := t.indentation(start, signs, in)
	end = t.bodyEnd(start, b.was, keeps)
	if in.above == nil {
		// At the top not even # or --- ends a text that has no line of its own, but for a longer blank line before it.
		if all := t.bodyEnd(start, b.was, true); all >= 0 && len(bytes.Trim(t.text[start:all], " \r\n")) == 0 {
			b, end = indents{}, all
		}
	}
	if end < 0 {
		return
	}
	last := t.text[t.lineStart(end):end]
	strips := bytes.IndexByte(signs, '-') >= 0
	bare := end == len(t.text) && !strips && len(bytes.TrimLeft(last, " ")) > 0
	t.add(token{kind: body, start: start, end: end, level: in, block: b, keeps: keeps, bare: bare})
}

// indentation finds how the lines of a block text are indented: the header says so with a digit, or else the first line
// that is not blank does, if no blank line before it is longer.
func (t *tokeniser) indentation(start int, signs []byte, in *level) indents {
	if i := slices.IndexFunc(signs, func(c byte) bool { return c >= '1' && c <= '9' }); i >= 0 {
		digit := int(signs[i] - '0')
		if in.above == nil {
			return indents{digit, digit}
		}
		return indents{in.was + digit, in.now + digit}
	}
	was := in.was + 1
	for at := start; at < len(t.text); {
		n := spaces(t.text[at:])
		was = max(was, n)
		if next := breakEnd(t.text, at+n); next > at+n {
			at = next
			continue
		}
		break
	}
	if was == 0 { // at the top, before a line of tabs
		return indents{}
	}
	return indents{was, max(in.now+step, step)}
}

// bodyEnd returns the end of the last line that belongs to a block text whose lines start at an offset, -1 if none
// does.
func (t *tokeniser) bodyEnd(start, indent int, keeps bool) int {
	end := -1
	for at := start; at < len(t.text); {
		n, stop := spaces(t.text[at:]), syntax.LineEnd(t.text, at)
		blank := at+n == stop
		if !blank && n < indent {
			break
		}
		if !blank || keeps || n > indent {
			end = stop
		}
		at = breakEnd(t.text, stop)
		if at == stop {
			break
		}
	}
	return end
}

func spaces(line []byte) int {
	return len(line) - len(bytes.TrimLeft(line, " "))
}
