package archive

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"whystone/kb/diag"
	"whystone/kb/doc"
)

// Header says what the columns of a table are: a path into a case, such as case, stone.carat or readings.ri, and how
// a cell is turned into what stands there.
type Header struct {
	columns []column
}

type column struct {
	name  string // as the table writes it
	path  []string
	rule  *Column // of a mapping; nil: the cell is taken as it is
	extra bool    // not part of a case
}

// eachRow cuts CSV with a header line.
func eachRow(path string, in io.Reader, m *Mapping, yield func(*Raw) bool) error {
	r := csv.NewReader(in)
	r.FieldsPerRecord = -1
	if m != nil && m.Delimiter != 0 {
		r.Comma = m.Delimiter
	}
	names, err := r.Read()
	if errors.Is(err, io.EOF) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("its header can't be read: %w", err)
	}
	names[0] = strings.TrimPrefix(names[0], "\uFEFF")
	h, err := header(names, m)
	if err != nil {
		return err
	}
	for {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			return nil
		}
		number, _ := r.FieldPos(0)
		raw := &Raw{File: path, Line: number, Header: h, Cells: cells}
		var pe *csv.ParseError
		switch {
		case errors.As(err, &pe):
			raw.Line, raw.Err = pe.StartLine, pe.Err
		case err != nil:
			return err
		case len(cells) != len(names):
			raw.Err = fmt.Errorf("the row has %d cells; the header names %d columns", len(cells), len(names))
		}
		if !yield(raw) {
			return nil
		}
	}
}

// header reads the names of columns, by the mapping if there is one.
func header(names []string, m *Mapping) (*Header, error) {
	h := &Header{}
	seen := map[string]string{}
	for _, name := range names {
		c := column{name: name}
		to := name
		if m != nil {
			if c.rule = m.Columns[name]; c.rule == nil {
				c.extra = true
				h.columns = append(h.columns, c)
				continue
			}
			to = c.rule.To
		}
		if old, twice := seen[to]; twice {
			return nil, fmt.Errorf("the columns %q and %q both give %s", old, name, to)
		}
		seen[to] = name
		c.path = strings.SplitN(to, ".", 2)
		h.columns = append(h.columns, c)
	}
	if _, ok := seen["case"]; !ok {
		return nil, errors.New("no column gives \"case\", the case's number or name")
	}
	return h, nil
}

// node makes a case's tree of a row. An empty cell says nothing.
func (h *Header) node(r *Raw, out *diag.List) *doc.Node {
	root := &doc.Node{Kind: doc.Map}
	for i, c := range h.columns {
		cell := strings.TrimSpace(r.Cells[i])
		if c.extra || cell == "" {
			continue
		}
		src := diag.NewSource(fmt.Sprintf("%s, column %q", r.Place(), c.name), []byte(cell))
		v := c.value(src, cell, out)
		if v == nil {
			continue
		}
		at := root
		if len(c.path) == 2 {
			at = inner(root, c.path[0], src)
		}
		at.Entries = append(at.Entries, doc.Entry{Key: text(src, c.path[len(c.path)-1]), Value: v})
	}
	return root
}

func inner(root *doc.Node, key string, src *diag.Source) *doc.Node {
	if n := root.Get(key); n != nil {
		return n
	}
	n := &doc.Node{Kind: doc.Map, Span: diag.Span{Source: src, End: len(src.Text)}}
	root.Entries = append(root.Entries, doc.Entry{Key: text(src, key), Value: n})
	return n
}

func text(src *diag.Source, s string) *doc.Node {
	return &doc.Node{Kind: doc.Scalar, Style: doc.JSONString, Text: s, Span: diag.Span{Source: src, End: len(src.Text)}}
}

// value reads a cell: what begins with a brace, bracket or quote is JSON; true, false and numbers are themselves; all
// else is text.
func (c *column) value(src *diag.Source, cell string, out *diag.List) *doc.Node {
	if c.rule != nil {
		var err error
		if cell, err = c.rule.apply(cell); err != nil {
			out.Errorf("bad-number", diag.Span{Source: src, End: len(src.Text)}, "%s", err)
			return nil
		}
	}
	n := text(src, cell)
	switch {
	case strings.IndexByte(`{["`, cell[0]) >= 0:
		return doc.ParseJSON(diag.NewSource(src.Name, []byte(cell)), out)
	case len(c.path) == 1 && textual(c.path[0]):
	case cell == "true" || cell == "false":
		n.Style = doc.JSONWord
	default:
		if _, err := strconv.ParseFloat(cell, 64); err == nil {
			n.Style = doc.JSONNumber
		}
	}
	return n
}

// textual tells whether a key of a case is text whatever it looks like.
func textual(key string) bool {
	switch key {
	case "case", "claim", "taken", "desk", "truth", "note":
		return true
	}
	return false
}
