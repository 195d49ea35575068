package archive

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"regexp"
	"slices"
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
	from := &bounded{Reader: in}
	r := csv.NewReader(from)
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
	for last := 1; ; {
		from.n = 0
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			return nil
		}
		raw := &Raw{File: path, Line: last + 1, Header: h, Cells: cells}
		if len(cells) > 0 {
			raw.Line, _ = r.FieldPos(0)
		}
		last = raw.Line
		var pe *csv.ParseError
		switch {
		case errors.Is(err, errTooLong):
			raw.Err = err
			yield(raw)
			return nil
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

// bounded is a reader that gives no more than a record may hold, so that a quote which is never closed does not fill the
// memory.
type bounded struct {
	io.Reader
	n int
}

var errTooLong = errors.New("the row is longer than a record may be: is a quote not closed? The rest of the file is passed over")

func (b *bounded) Read(p []byte) (int, error) {
	if b.n > MaxLine {
		return 0, errTooLong
	}
	n, err := b.Reader.Read(p)
	b.n += n
	return n, err
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
	if m != nil {
		for _, name := range slices.Sorted(maps.Keys(m.Columns)) {
			if !slices.Contains(names, name) {
				return nil, missingColumn(name, names)
			}
		}
	}
	if _, ok := seen["case"]; !ok {
		return nil, errors.New("no column gives \"case\", the case's number or name")
	}
	return h, nil
}

// missingColumn says that the mapping names what the table hasn't. A reading that is dropped silently changes verdicts.
func missingColumn(name string, names []string) error {
	says := fmt.Sprintf("the mapping names the column %q, and the table has none of that name", name)
	if near := diag.Nearest(name, names); near != "" {
		says += fmt.Sprintf("; did you mean %q?", near)
	}
	return errors.New(says)
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
	plain := len(c.path) == 1 && textual(c.path[0])
	if c.rule != nil {
		var err error
		if cell, err = c.rule.apply(cell, plain); err != nil {
			out.Errorf("bad-number", diag.Span{Source: src, End: len(src.Text)}, "%s", err)
			return nil
		}
		if cell == "" {
			return nil
		}
	}
	n := text(src, cell)
	switch {
	case strings.IndexByte(`{["`, cell[0]) >= 0:
		return doc.ParseJSON(diag.NewSource(src.Name, []byte(cell)), out)
	case plain:
	case cell == "true" || cell == "false" || cell == "null":
		n.Style = doc.JSONWord
	default:
		if number, ok := jsonNumber(cell); ok {
			n.Style, n.Text = doc.JSONNumber, number
		}
	}
	return n
}

// decimal is a number as people and spreadsheets write it.
var decimal = regexp.MustCompile(`^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$`)

// jsonNumber writes a cell's number as JSON does, its digits kept where JSON has that form.
func jsonNumber(cell string) (string, bool) {
	if !decimal.MatchString(cell) {
		return "", false
	}
	if json.Valid([]byte(cell)) {
		return cell, true
	}
	x, err := strconv.ParseFloat(cell, 64)
	return strconv.FormatFloat(x, 'g', -1, 64), err == nil
}

// textual tells whether a key of a case is text whatever it looks like.
func textual(key string) bool {
	switch key {
	case "case", "claim", "taken", "desk", "truth", "note":
		return true
	}
	return false
}
