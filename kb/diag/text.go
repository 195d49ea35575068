package diag

import (
	"bytes"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// TextOptions says how [WriteText] writes. Width is the number of terminal cells to wrap at (0: 80); Max how many
// diagnostics are written before the rest are only counted (0: 20).
type TextOptions struct {
	Colour bool
	Width  int
	Max    int
}

const (
	defaultWidth = 80
	narrowest    = 30
	defaultMax   = 20
	indent       = "  "
)

type textWriter struct {
	bytes.Buffer
	colour bool
	width  int
}

// WriteText writes the list for people to read: per diagnostic what is wrong, where, the line with a marker under the
// place, why, what may have been meant, related places and the values in scope. The order of the list is kept.
func WriteText(w io.Writer, l List, o TextOptions) error {
	if o.Width == 0 {
		o.Width = defaultWidth
	}
	if o.Max <= 0 {
		o.Max = defaultMax
	}
	t := &textWriter{colour: o.Colour, width: max(o.Width, narrowest)}
	for i, d := range l[:min(len(l), o.Max)] {
		if i > 0 {
			t.WriteByte('\n')
		}
		t.diagnostic(d)
	}
	if more := len(l) - o.Max; more > 0 {
		_, _ = fmt.Fprintf(t, "\n%d more\n", more) // a buffer takes everything
	}
	_, err := w.Write(t.Bytes())
	return err
}

func (t *textWriter) diagnostic(d Diagnostic) {
	head := d.Severity.String() + ": " + d.Summary
	if d.Code != "" {
		head += " [" + string(d.Code) + "]"
	}
	t.wrapped("", head, "1")
	t.place(d.Span, "")
	if advice := d.Advice(); advice != "" {
		t.wrapped(indent, advice, "")
	}
	if d.Nearest != "" {
		t.wrapped(indent, "did you mean "+strconv.Quote(d.Nearest)+"?", "")
	}
	for _, r := range d.Related {
		t.place(r.Span, r.Says)
	}
	for _, v := range d.Values {
		t.wrapped(indent+indent, v.Name+" = "+v.Value, "")
	}
}

// place writes where a span is, and its line with a marker.
func (t *textWriter) place(sp Span, says string) {
	if sp.IsZero() {
		if says != "" {
			t.wrapped(indent, says, "")
		}
		return
	}
	at := "at " + oneLine(sp.String())
	if says != "" {
		at += ": " + says
	}
	t.wrapped(indent, at, "")
	p := sp.Position()
	number := strconv.Itoa(p.Line)
	number = strings.Repeat(" ", max(6-len(number), 0)) + number + indent
	line, marker := t.excerpt(sp, p, t.width-len(number))
	t.line(number+line, "")
	t.line(strings.Repeat(" ", len(number))+marker, "1")
}

// wrapped writes paragraphs broken at spaces to fit the width. A style is an SGR parameter.
func (t *textWriter) wrapped(prefix, text, style string) {
	for paragraph := range strings.SplitSeq(text, "\n") {
		line, cells := prefix, len(prefix)
		for i, word := range strings.Fields(oneLine(paragraph)) {
			w := Cells(word)
			if i > 0 && cells+1+w > t.width {
				t.line(line, style)
				line, cells = prefix+indent, len(prefix+indent)
			} else if i > 0 {
				line, cells = line+" ", cells+1
			}
			line, cells = line+word, cells+w
		}
		t.line(line, style)
	}
}

func (t *textWriter) line(s, style string) {
	s = strings.TrimRight(s, " ")
	if t.colour && style != "" {
		s = "\x1b[" + style + "m" + s + "\x1b[0m"
	}
	t.WriteString(s + "\n")
}
