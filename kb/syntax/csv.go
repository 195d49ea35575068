package syntax

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"strings"

	"whystone/kb/diag"
)

// ParseCSV reads a text of comma-separated values as RFC 4180 has them: a List for each record, of Field scalars. A
// byte order mark at the start and lines that end with LF or CRLF are accepted, empty lines passed over; records may be
// of unlike length. It returns nil when the text can't be read; what is wrong is then in out.
func ParseCSV(src *diag.Source, out *diag.List) []*Node {
	if !readable(src, 0, len(src.Text), true, out) || tooMany(src, out) || unmerged(src, out) || loneReturn(src, out) {
		return nil
	}
	skip := len(src.Text) - len(bytes.TrimPrefix(src.Text, []byte("\uFEFF")))
	c := &fields{src: src, starts: lineStarts(src.Text, skip)}
	r := csv.NewReader(bytes.NewReader(src.Text[skip:]))
	r.FieldsPerRecord = -1
	records := []*Node{}
	for {
		record, err := r.Read()
		if errors.Is(err, io.EOF) {
			return records
		}
		if err != nil {
			c.report(err, out)
			return nil
		}
		row := &Node{Kind: List}
		for i, text := range record {
			line, column := r.FieldPos(i)
			row.Items = append(row.Items, c.node(c.offset(line, column), text))
		}
		row.Span = join(row.Items[0].Span, row.Items[len(row.Items)-1].Span)
		records = append(records, row)
	}
}

// loneReturn reports a carriage return that no line feed follows: some programs take it for a line end, others don't.
func loneReturn(src *diag.Source, out *diag.List) bool {
	for i := range src.Text {
		if src.Text[i] == '\r' && BreakAt(src.Text, i) == 1 {
			out.Errorf(diag.BadEncoding, diag.Span{Source: src, Start: i, End: i + 1},
				"a carriage return stands alone here").
				Detail = "Save the file with lines that end with LF or CRLF."
			return true
		}
	}
	return false
}

// fields finds where the fields of a text stand that the library has read.
type fields struct {
	src    *diag.Source
	starts []int // of the lines, as the library counts them
}

func lineStarts(text []byte, skip int) []int {
	starts := []int{skip}
	for i := skip; i < len(text); i++ {
		if text[i] == '\n' {
			starts = append(starts, i+1)
		}
	}
	return starts
}

// offset is the byte at a line and byte column, both from 1.
func (c *fields) offset(line, column int) int {
	line = min(max(line, 1), len(c.starts))
	return min(c.starts[line-1]+max(column, 1)-1, len(c.src.Text))
}

// node is the field that begins at an offset. A field in quotes is put together of what stands between its quotes: a
// quote that stands for itself is written twice, and a line end may be CRLF.
func (c *fields) node(start int, text string) *Node {
	raw := c.src.Text
	if start >= len(raw) || raw[start] != '"' {
		sp := diag.Span{Source: c.src, Start: start, End: min(start+len(text), len(raw))}
		return Pieced(Field, sp, Piece{text, sp})
	}
	var pieces []Piece
	add := func(text string, from, to int) {
		pieces = append(pieces, Piece{text, diag.Span{Source: c.src, Start: from, End: to}})
	}
	i := start + 1
	for from := i; ; {
		rest := raw[i:]
		size := 0
		switch {
		case len(rest) == 0 || rest[0] == '"' && (len(rest) == 1 || rest[1] != '"'):
			add(string(raw[from:i]), from, i)
			return Pieced(Field, diag.Span{Source: c.src, Start: start, End: min(i+1, len(raw))}, pieces...)
		case rest[0] == '"' || BreakAt(raw, i) == 2:
			size = 2
		default:
			i++
			continue
		}
		add(string(raw[from:i]), from, i)
		add(strings.TrimPrefix(string(rest[:size]), "\r")[:1], i, i+size)
		i += size
		from = i
	}
}

// report tells where and why the library gave up.
func (c *fields) report(err error, out *diag.List) {
	var e *csv.ParseError
	if !errors.As(err, &e) {
		out.Errorf(diag.BadSyntax, diag.Span{Source: c.src}, "the text can't be read: %s", err)
		return
	}
	start := c.offset(e.Line, e.Column)
	says, detail := "a quote stands here that neither opens nor closes a field",
		"A field that has quotes in it stands in quotes itself, and has them twice: \"a \"\"b\"\" c\"."
	if start >= len(c.src.Text) || c.src.Text[start] != '"' {
		start = c.offset(e.StartLine, 1)
		says, detail = "a field of this record opens a quote that nothing closes", ""
	}
	d := out.Errorf(diag.BadSyntax, diag.Span{Source: c.src, Start: start, End: min(start+1, len(c.src.Text))}, "%s",
		says)
	d.Detail = detail
}
