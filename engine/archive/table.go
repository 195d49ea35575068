package archive

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/syntax"
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
	// textual: the column gives what a case has as text, whatever it looks like.
	textual bool
	place   casefile.Place
}

func newColumn(name, path string, rule *Column) column {
	c := column{name: name, path: strings.SplitN(path, ".", 2), rule: rule}
	c.textual = len(c.path) == 1 && slices.Contains(texts, c.path[0])
	c.place = casefile.PlaceOf(c.path...)
	return c
}

// eachRow cuts CSV with a header line.
func eachRow(path string, in *bufio.Reader, m *Mapping, yield func(*Raw) bool) error {
	comma := ','
	if m != nil {
		comma = m.Delimiter
	}
	t := newRows(in, comma)
	head, err := t.next()
	switch {
	case errors.Is(err, io.EOF):
		return errors.New("it is empty; a table has a header line, which names its columns")
	case err != nil:
		return err
	case head.err != nil:
		return fmt.Errorf("its header can't be read: line %d, %w", head.first, head.err)
	}
	h, err := header((&Raw{Cells: head.cells, Width: head.width}).Row(), m)
	if err != nil {
		return err
	}
	for {
		r, err := t.next()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		raw := t.shelf.raw(Raw{File: path, Line: r.first, Header: h, Cells: r.cells, Width: r.width, Err: r.err})
		if r.err == nil && r.width != len(h.columns) {
			raw.Err = fmt.Errorf("the row%s has %d cells; the header names %d columns", r.lines(), r.width,
				len(h.columns))
		}
		if !yield(raw) {
			return nil
		}
	}
}

// lines says on which lines a row stands, where that is more than one: a quote that opens a cell by mistake makes one
// row of many.
func (r *row) lines() string {
	if r.first == r.last {
		return ""
	}
	return fmt.Sprintf(", lines %d to %d,", r.first, r.last)
}

// header reads the names of columns, by the mapping if there is one.
func header(names []string, m *Mapping) (*Header, error) {
	h := &Header{}
	seen := map[string]string{} // what a column gives, and its name
	for i, name := range names {
		if !utf8.ValidString(name) {
			return nil, fmt.Errorf("the name of its column %d is not valid UTF-8: save the file as UTF-8", i+1)
		}
		to, rule := name, (*Column)(nil)
		if m != nil {
			if rule = m.Columns[name]; rule == nil {
				h.columns = append(h.columns, column{name: name, extra: true})
				continue
			}
			to = rule.To
		}
		if old, twice := seen[to]; twice {
			return nil, fmt.Errorf("the columns %q and %q both give %s", old, name, to)
		}
		seen[to] = name
		h.columns = append(h.columns, newColumn(name, to, rule))
	}
	for _, c := range h.columns {
		if len(c.path) == 2 {
			if whole, both := seen[c.path[0]]; both {
				return nil, fmt.Errorf("the columns %q and %q both give %s: the first gives all of it, the second a "+
					"part", whole, c.name, c.path[0])
			}
		}
	}
	if m != nil {
		for _, name := range slices.Sorted(maps.Keys(m.Columns)) {
			if !slices.Contains(names, name) {
				return nil, missingColumn(name, names)
			}
		}
	}
	if _, ok := seen["case"]; !ok {
		return nil, errors.New("no column gives \"case\", the case's number or name" + parted(names, m))
	}
	return h, nil
}

// parted says what the cells of a header are parted by that has the column, but not between commas.
func parted(names []string, m *Mapping) string {
	for _, mark := range []string{";", "\t", "|"} {
		cells := strings.Split(strings.Join(names, ","), mark)
		if m == nil && slices.ContainsFunc(cells, func(c string) bool { return strings.Trim(c, ` "`) == "case" }) {
			return fmt.Sprintf("; its header is parted by %q and not by commas: a mapping (--mapping FILE) says so, "+
				"with delimiter: %[1]q, and what each column gives", mark)
		}
	}
	return ""
}

// missingColumn says that the mapping names what the table hasn't. A reading that is dropped silently changes verdicts.
func missingColumn(name string, names []string) error {
	return fmt.Errorf("the mapping names the column %q, and the table has none of that name%s", name,
		diag.Meant(diag.Nearest(name, names)))
}

// names are those of the columns.
func (h *Header) names() []string {
	out := make([]string, len(h.columns))
	for i, c := range h.columns {
		out[i] = c.name
	}
	return out
}

// node makes a case's tree of a row. An empty cell says nothing.
func (h *Header) node(r *Raw, out *diag.List) *syntax.Node {
	root := &syntax.Node{Kind: syntax.Map}
	values := 0 // of all cells that are JSON
	for i := range r.Cells {
		c, cell := &h.columns[r.Cells[i].Column], r.Cells[i].Text
		if !c.verbatim() {
			cell = strings.TrimSpace(cell)
		}
		if c.extra || cell == "" {
			continue
		}
		src := &diag.Source{Name: fmt.Sprintf("%s, column %q", r.Place(), c.name), Key: c.name, Text: []byte(cell)}
		if c.isJSON(cell) {
			values += valuesIn(src.Text)
		}
		if values > MaxValues {
			crowded(src, out)
			return nil
		}
		v := c.value(src, cell, out)
		if v.IsNull() {
			continue
		}
		at := root
		if len(c.path) == 2 {
			at = inner(root, c.path[0], src)
		}
		at.Entries = append(at.Entries, syntax.Entry{Key: text(src, c.path[len(c.path)-1]), Value: v})
	}
	return root
}

func inner(root *syntax.Node, key string, src *diag.Source) *syntax.Node {
	if n := root.Get(key); n != nil {
		return n
	}
	n := &syntax.Node{Kind: syntax.Map, Span: diag.Span{Source: src, End: len(src.Text)}}
	root.Entries = append(root.Entries, syntax.Entry{Key: text(src, key), Value: n})
	return n
}

func text(src *diag.Source, s string) *syntax.Node {
	return &syntax.Node{Kind: syntax.Scalar, Style: syntax.JSONString, Text: s,
		Span: diag.Span{Source: src, End: len(src.Text)}}
}

// value reads a cell: what begins with a brace, bracket or quote is JSON; true, false, null and numbers are themselves;
// all else is text. Where a case wants text, all is. It returns nil for a cell that says nothing, or can't be read.
func (c *column) value(src *diag.Source, cell string, out *diag.List) *syntax.Node {
	if at, wrong := unreadable(cell); wrong != "" {
		out.Errorf(diag.BadEncoding, diag.Span{Source: src, Start: at, End: at + 1}, "%s", wrong)
		return nil
	}
	if c.rule != nil {
		var err error
		if cell, err = c.rule.apply(cell, c.textual); err != nil {
			out.Errorf(diag.BadNumber, diag.Span{Source: src, End: len(src.Text)}, "%s", err)
			return nil
		}
		if cell == "" {
			return nil
		}
	}
	n := text(src, cell)
	switch {
	case c.isJSON(cell):
		return syntax.ParseJSON(&diag.Source{Name: src.Name, Key: src.Key, Text: []byte(cell)}, out)
	case c.textual:
	case cell == "true" || cell == "false" || cell == "null":
		n.Style = syntax.JSONWord
	default:
		if number, ok := jsonNumber(cell); ok {
			n.Style, n.Text = syntax.JSONNumber, number
		}
	}
	return n
}

// unreadable says what no text may hold, and where: the same as in JSON lines.
func unreadable(cell string) (at int, wrong string) {
	if at = strings.IndexByte(cell, 0); at >= 0 {
		return at, "the text has a NUL character here"
	}
	if utf8.ValidString(cell) {
		return 0, ""
	}
	for i, r := range cell {
		if _, size := utf8.DecodeRuneInString(cell[i:]); r == utf8.RuneError && size == 1 {
			return i, "the text is not valid UTF-8 here: save the file as UTF-8"
		}
	}
	return 0, ""
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

// isJSON tells whether a cell is read as JSON.
func (c *column) isJSON(cell string) bool {
	return !c.textual && cell != "" && strings.IndexByte(`{["`, cell[0]) >= 0
}

// verbatim tells whether the spaces around a cell are part of it: of a text, in a table that is written for Whystone.
func (c *column) verbatim() bool { return c.rule == nil && c.textual }

var texts = []string{"case", "claim", "taken", "desk", "by", "truth", "note"}
