package syntax

import (
	"bytes"
	"regexp"

	"whystone/kb/diag"
)

// A file of rules is a few keys with lists under them, and a slip in one item of a list is no reason to be silent about
// the others. So where a text can't be read, each item is read by itself, and the rest of the text as if those that
// can't be read were blank: offsets stay what they are.

// maxParts bounds how many parts of one text are read by themselves.
const maxParts = 2000

// ParseYAMLParts is [ParseYAML] for a file of keys with lists under them: of a text that can't be read as a whole it
// returns what can be, with the places of the items that can't. Each of these has its error in out. Where no such items
// can be told apart, the nodes are nil, and the one place is the whole text.
func ParseYAMLParts(src *diag.Source, out *diag.List) (docs []*Node, unread []diag.Span) {
	all := diag.Span{Source: src, End: len(src.Text)}
	var whole diag.List
	if docs = ParseYAML(src, &whole); docs != nil {
		*out = append(*out, whole...)
		return docs, nil
	}
	text := bytes.Clone(src.Text)
	if len(whole) == 0 || !readable(src, 0, len(text), true, &diag.List{}) || tooMany(src, &diag.List{}) ||
		unmerged(src, &diag.List{}) {
		*out = append(*out, whole...)
		return nil, []diag.Span{all}
	}
	for _, p := range partsOf(text) {
		alone := p.alone(src.Text)
		if _, err := load(alone); err != nil {
			reportPart(src, alone, err, out)
			unread = append(unread, diag.Span{Source: src, Start: p.start, End: p.end})
			blankOut(text[p.start:p.end])
		}
	}
	if len(unread) == 0 {
		*out = append(*out, whole...)
		return nil, []diag.Span{all}
	}
	roots, err := load(text)
	if err != nil {
		reportPart(src, text, err, out)
		return nil, []diag.Span{all}
	}
	return convert(src, text, roots, out), unread
}

// reportPart tells why a text can't be read that is a source's with parts of it blank.
func reportPart(src *diag.Source, text []byte, err error, out *diag.List) {
	var found diag.List
	reportYAML(diag.NewSource(src.Name, text), err, &found)
	for _, d := range found {
		if d.Span.Source = src; d.Related != nil {
			d.Related[0].Span.Source = src
		}
		out.Add(d)
	}
}

// part is an item of a list under a top-level key, or a key without such a list, with all that belongs to it.
type part struct {
	key        [2]int // the line of the key above it; empty when that is in the part
	start, end int
}

var (
	keyLine  = regexp.MustCompile(`^[A-Za-z_"'][^\r\n]*?:`)
	dashLine = regexp.MustCompile(`^( *)-(?: |\r?$)`)
)

// partsOf finds the parts of a text, none when there are too many.
func partsOf(text []byte) (out []part) {
	var key [2]int
	indent, open := -1, -1 // of the items under the key; the start of the part that is open
	shut := func(end int) {
		if open >= 0 {
			out = append(out, part{key, open, end})
		}
		open = -1
	}
	for i := 0; i < len(text); {
		end := LineEnd(text, i)
		line := text[i:end]
		switch m := dashLine.FindSubmatch(line); {
		case keyLine.Match(line):
			shut(i)
			key, indent, open = [2]int{i, i}, -1, i
		case m != nil && key != [2]int{} && (indent < 0 || len(m[1]) == indent):
			if indent < 0 { // what was open is the key's own line
				key, open = [2]int{key[0], LineEnd(text, key[0])}, -1
			}
			shut(i)
			indent, open = len(m[1]), i
		case m != nil && key == [2]int{} && len(m[1]) == 0 && i == 0:
			key, indent, open = [2]int{0, 0}, 0, i
		}
		i = end + max(BreakAt(text, end), 1)
	}
	shut(len(text))
	if len(out) > maxParts {
		return nil
	}
	return out
}

// alone is a text with all but a part and the key above it made blank.
func (p part) alone(text []byte) []byte {
	text = bytes.Clone(text)
	blankOut(text[:p.key[0]])
	blankOut(text[max(p.key[1], p.key[0]):max(p.start, p.key[1])])
	blankOut(text[p.end:])
	return text
}

// blankOut makes blanks of all but line ends.
func blankOut(text []byte) {
	for i, c := range text {
		if c != '\n' && c != '\r' {
			text[i] = ' '
		}
	}
}
