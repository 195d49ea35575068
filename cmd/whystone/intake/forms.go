package intake

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"

	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/syntax"
)

// readJSON reads one case, or a list of cases.
func readJSON(src *diag.Source, rd *casefile.Reader, yield func(Item) bool) {
	var found diag.List
	n := syntax.ParseJSON(src, &found)
	if n == nil {
		yield(Item{File: src.Name, Found: found})
		return
	}
	items(n, src.Name, rd, found, yield)
}

// items yields a case, or each of a list of them. Reports of the parser itself go with every case that they stand in.
func items(n *syntax.Node, name string, rd *casefile.Reader, found diag.List, yield func(Item) bool) bool {
	if n.Kind != syntax.List {
		return yield(item(n, name, rd, found))
	}
	if len(n.Items) == 0 {
		return yield(nothing(name))
	}
	for _, it := range n.Items {
		if !yield(item(it, name, rd, inside(found, it.Span))) {
			return false
		}
	}
	return true
}

func inside(found diag.List, sp diag.Span) diag.List {
	var out diag.List
	for _, d := range found {
		if d.Span.Start >= sp.Start && d.Span.Start <= sp.End {
			out.Add(d)
		}
	}
	return out
}

// readYAML reads each document of a text by itself, so that one that is broken leaves the others whole. YAML itself
// sees to it that this is possible: a line that begins with "---" ends whatever is open (YAML 1.2.2, 9.1.2).
func readYAML(src *diag.Source, rd *casefile.Reader, yield func(Item) bool) {
	for _, part := range documents(src.Text) {
		var found diag.List
		own := diag.NewSource(src.Name, src.Text[part.start:part.end])
		docs := syntax.ParseYAML(own, &found)
		moved := mover{from: own, to: src, by: part.start}
		moved.list(found)
		if docs == nil && found.HasErrors() {
			if !yield(Item{File: src.Name, ID: guessID(own.Text), Found: found}) {
				return
			}
			continue
		}
		for _, n := range docs {
			if n.IsNull() && !found.HasErrors() {
				continue
			}
			moved.node(n)
			if !items(n, src.Name, rd, found, yield) {
				return
			}
		}
	}
}

type part struct{ start, end int }

// documents cuts a YAML text before each line that is a document marker.
func documents(text []byte) []part {
	var parts []part
	start, at := 0, 0
	for line := range bytes.Lines(text) {
		if rest, ok := bytes.CutPrefix(line, []byte("---")); ok && at > start &&
			(len(rest) == 0 || bytes.IndexByte([]byte(blanks), rest[0]) >= 0) {
			parts = append(parts, part{start, at})
			start = at
		}
		at += len(line)
	}
	return append(parts, part{start, len(text)})
}

// guessID finds the case's number in a text that can't be parsed: the word after "case:" at the start of a line.
func guessID(text []byte) string {
	for line := range bytes.Lines(text) {
		if rest, ok := bytes.CutPrefix(line, []byte("case:")); ok {
			rest, _, _ = bytes.Cut(rest, []byte(" #"))
			if id := string(bytes.Trim(rest, blanks+`"'`)); len(id) <= 100 {
				return id
			}
		}
	}
	return ""
}

// mover turns places in a part of a text into places in the whole.
type mover struct {
	from, to *diag.Source
	by       int
}

func (m mover) span(sp *diag.Span) {
	if sp.Source == m.from {
		*sp = diag.Span{Source: m.to, Start: sp.Start + m.by, End: sp.End + m.by}
	}
}

func (m mover) list(l diag.List) {
	for i := range l {
		m.span(&l[i].Span)
		for k := range l[i].Related {
			m.span(&l[i].Related[k].Span)
		}
	}
}

// node moves a tree that nobody else has seen yet.
func (m mover) node(n *syntax.Node) {
	m.span(&n.Span)
	for _, e := range n.Entries {
		m.node(e.Key)
		m.node(e.Value)
	}
	for _, it := range n.Items {
		m.node(it)
	}
}

// padding is how many bytes may be spent on giving broken lines their place: a diagnostic points into a text that ends
// with its line, and what comes before is filled with blanks.
const padding = 16 << 20

// readLines reads JSON lines, holding one line at a time. Blank lines are passed over.
func readLines(in *bufio.Reader, name string, rd *casefile.Reader, yield func(Item) bool) {
	l := &lines{in: in, left: padding}
	for {
		text, err := l.next()
		if errors.Is(err, errTooLong) {
			src, at := l.padded(diag.NewSource(name, nil))
			if !yield(tooLong(name, diag.Span{Source: src, Start: at, End: at}, "the line")) {
				return
			}
			continue
		}
		if len(bytes.TrimSpace(text)) > 0 && !yield(l.item(name, text, rd)) {
			return
		}
		if err != nil {
			if !errors.Is(err, io.EOF) {
				yield(unreadable(name, "%s can't be read given further than line %d: %s", name, l.number, reason(err)))
			}
			return
		}
	}
}

var errTooLong = errors.New("the line is too long")

// lines cuts a stream at line ends.
type lines struct {
	in     *bufio.Reader
	buf    []byte
	number int // of the last line, from 1
	offset int // in the stream, of that line
	after  int // of the next one
	left   int // of the padding
}

// next returns the next line, good until the one after is asked for. The last one comes with io.EOF. A line that is too
// long is passed over, and errTooLong returned.
func (l *lines) next() ([]byte, error) {
	l.buf, l.offset = l.buf[:0], l.after
	l.number++
	for {
		part, err := l.in.ReadSlice('\n')
		l.after += len(part)
		if len(l.buf) <= syntax.MaxBytes {
			l.buf = append(l.buf, part...)
		}
		switch {
		case errors.Is(err, bufio.ErrBufferFull):
		case len(l.buf) > syntax.MaxBytes && (err == nil || errors.Is(err, io.EOF)):
			l.buf = nil
			return nil, errTooLong
		default:
			text := l.buf
			if l.number == 1 {
				text = bytes.TrimPrefix(text, []byte("\uFEFF"))
			}
			return bytes.TrimRight(text, "\r\n"), err
		}
	}
}

// item reads the case of a line. Its text is kept by what points into it, so it is copied.
func (l *lines) item(name string, text []byte, rd *casefile.Reader) Item {
	own := diag.NewSource(name, bytes.Clone(text))
	var found diag.List
	n := syntax.ParseJSON(own, &found)
	it := item(n, name, rd, found)
	if len(it.Found) > 0 {
		to, by := l.padded(own)
		mover{from: own, to: to, by: by}.list(it.Found)
	}
	return it
}

// padded is a source in which the last line has its number and offset. Where that would take more than is left of the
// padding, the number stands in the name.
func (l *lines) padded(own *diag.Source) (*diag.Source, int) {
	if l.offset > l.left {
		return diag.NewSource(fmt.Sprintf("%s, line %d", own.Name, l.number), own.Text), 0
	}
	l.left -= l.offset
	text := make([]byte, l.offset, l.offset+len(own.Text))
	for i := range text {
		text[i] = ' '
		if i >= l.offset-(l.number-1) {
			text[i] = '\n'
		}
	}
	return diag.NewSource(own.Name, append(text, own.Text...)), l.offset
}
