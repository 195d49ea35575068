package tidy

import (
	"bytes"
	"slices"
	"strings"

	"whystone/kb/syntax"
)

// What an edit puts right.
const (
	byteOrderMark = "byte order mark"
	lineEnds      = "line end"
	lineBlanks    = "blanks at the end of a line"
	blankLines    = "blank lines"
	indentation   = "indentation"
	spacing       = "spacing"
	commentSign   = "blank after #"
)

// printer makes the edits that bring tokens to where they are to stand.
type printer struct {
	text   []byte
	tokens []token
	edits  []Edit
}

func (p *printer) print() []Edit {
	p.placeComments()
	parted := p.parted()
	at := len(bom(p.text))
	p.edit(0, at, "", byteOrderMark)
	var before *token
	for i := range p.tokens {
		t := &p.tokens[i]
		switch {
		case before == nil:
			p.opening(at, t)
		case t.own:
			p.lines(before, t, parted[i])
		default:
			p.edit(before.end, t.start, p.gap(before, t), spacing)
		}
		p.inside(t)
		before, at = t, t.end
	}
	p.closing(at, before)
	return p.edits
}

// edit adds an edit unless it changes nothing.
func (p *printer) edit(start, end int, with, says string) {
	if string(p.text[start:end]) != with {
		p.edits = append(p.edits, Edit{start, end, with, says})
	}
}

// placeComments finds the columns of comments that have a line of their own and stand in no brackets: see the package's
// comment.
func (p *printer) placeComments() {
	now, was := 0, 0 // of the next line that is not such a comment
	for i, t := range slices.Backward(p.tokens) {
		switch {
		case t.kind != comment:
			if t.own && t.kind != body {
				now, was = t.column, t.was
			}
			if t.kind == mark {
				now, was = 0, 0
			}
		case t.own && !t.inFlow:
			p.tokens[i].column = now
			for lv := t.level; lv != nil && lv.now > now && t.was > was; lv = lv.above {
				if t.was >= lv.was {
					p.tokens[i].column = lv.now
					break
				}
			}
		}
	}
}

// parted tells before which tokens there must be a blank line: before each dash that parts sheets, or before the
// comments that lead to it, if none stands between them.
func (p *printer) parted() []bool {
	parted := make([]bool, len(p.tokens))
	for i, t := range p.tokens {
		if !t.sheet {
			continue
		}
		first := i
		for p.leadsTo(first-1, t.column) && !p.blankBefore(first) {
			first--
		}
		parted[first] = true
	}
	return parted
}

func (p *printer) leadsTo(i, column int) bool {
	t := p.tokens[i]
	return t.kind == comment && t.own && t.column == column
}

// blankBefore tells whether a blank line stands before a token that begins a line.
func (p *printer) blankBefore(i int) bool {
	gap := p.text[p.tokens[i-1].end:p.tokens[i].start]
	next := breakEnd(gap, syntax.LineEnd(gap, 0))
	return syntax.LineEnd(gap, next) < len(gap)
}

// opening edits what stands before the first token.
func (p *printer) opening(start int, t *token) {
	from := lineStart(p.text, start, t.start)
	p.edit(start, from, "", blankLines)
	p.edit(from, t.start, strings.Repeat(" ", t.column), indentation)
}

// lines edits what stands between a token and one that begins a line: the end of the line, blank lines, the
// indentation.
func (p *printer) lines(before, t *token, parted bool) {
	next := p.lineBreak(before.end)
	from := lineStart(p.text, next, t.start)
	with := ""
	if from > next || parted && !before.keeps {
		with = "\n"
	}
	p.edit(next, from, with, blankLines)
	if t.kind != body {
		p.edit(from, t.start, strings.Repeat(" ", t.column), indentation)
	}
}

// lineBreak edits the end of a line from the last thing on it, and returns the start of the next.
func (p *printer) lineBreak(start int) int {
	stop := syntax.LineEnd(p.text, start)
	next := breakEnd(p.text, stop)
	p.edit(start, stop, "", lineBlanks)
	p.edit(stop, next, "\n", lineEnds)
	return next
}

// closing edits what follows the last token.
func (p *printer) closing(at int, last *token) {
	with := "\n"
	if last == nil || last.bare {
		with = ""
	}
	says := blankLines
	if next := breakEnd(p.text, syntax.LineEnd(p.text, at)); next == len(p.text) {
		says = lineEnds
	}
	p.edit(at, len(p.text), with, says)
}

// gap returns what is to stand between two tokens of one line.
func (p *printer) gap(before, t *token) string {
	old := string(p.text[before.end:t.start])
	switch {
	case t.kind == comment:
		if len(old) >= 2 && !strings.Contains(old, "\t") {
			return old
		}
		return "  "
	case before.kind == colon && (t.kind == comma || t.kind == closer):
		return " "[:min(len(old), 1)]
	case t.kind == colon, t.kind == comma, t.kind == closer, before.kind == opener:
		return ""
	}
	return " "
}

// inside edits a token itself.
func (p *printer) inside(t *token) {
	switch t.kind {
	case comment:
		if rest := p.text[t.start+1 : t.end]; len(rest) > 0 && !bytes.ContainsAny(rest[:1], " \t#!") {
			p.edit(t.start+1, t.start+1, " ", commentSign)
		}
	case scalar:
		p.words(t)
	case body:
		p.body(t)
	}
}

// words edits the line ends and further lines of a text that is no block text. Blanks around its line breaks mean
// nothing, but for a blank after a backslash in double quotes.
func (p *printer) words(t *token) {
	for at := t.start; ; {
		stop := syntax.LineEnd(p.text[:t.end], at)
		if stop == t.end {
			return
		}
		from := at + len(bytes.TrimRight(p.text[at:stop], " \t"))
		if t.style == syntax.Double && from < stop && escapes(p.text[at:from]) {
			from++
		}
		p.edit(from, stop, "", lineBlanks)
		at = breakEnd(p.text, stop)
		p.edit(stop, at, "\n", lineEnds)
		first := at + len(p.text[at:t.end]) - len(bytes.TrimLeft(p.text[at:t.end], " \t"))
		if !isBreak(p.text[first]) {
			p.edit(at, first, strings.Repeat(" ", t.further), indentation)
			at = first
		}
	}
}

// escapes tells whether a text ends with a backslash that escapes what follows.
func escapes(text []byte) bool {
	return (len(text)-len(bytes.TrimRight(text, `\`)))%2 == 1
}

// body edits the lines of a block text.
func (p *printer) body(t *token) {
	for at := t.start; ; {
		stop := syntax.LineEnd(p.text[:t.end], at)
		n := min(spaces(p.text[at:stop]), t.block.was)
		if at+n == stop {
			p.edit(at, stop, "", lineBlanks)
		} else {
			p.edit(at, at+n, strings.Repeat(" ", t.block.now), indentation)
		}
		if stop == t.end {
			return
		}
		at = breakEnd(p.text, stop)
		p.edit(stop, at, "\n", lineEnds)
	}
}
