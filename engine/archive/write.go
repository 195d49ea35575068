package archive

import (
	"bufio"
	"compress/gzip"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/klauspost/compress/zstd"

	"whystone/kb/diag"
	"whystone/kb/syntax"
)

// Writer writes records in one of the forms. A record is written as what it says, so that converting loses nothing.
type Writer struct {
	sink
	closers []io.Closer // from the innermost
}

type sink interface {
	write(n *syntax.Node) error
	close() error
}

// Columns are those of a table that can hold any case: the case's own keys, the stone's, and one for each observable.
func Columns(observables []string) []string {
	out := []string{"format", "case", "claim", "taken", "desk", "by"}
	for _, k := range []string{"mounted", "warm", "wet", "coated", "carat", "length_mm", "width_mm", "depth_mm", "cut",
		"setting", "colour", "transparency"} {
		out = append(out, "stone."+k)
	}
	out = append(out, "stake")
	for _, o := range observables {
		out = append(out, "readings."+o)
	}
	out = append(out, "correlations", "truth")
	for _, k := range []string{"verdict", "claim", "named", "nodes", "ruleset", "method"} {
		out = append(out, "recorded."+k)
	}
	return append(out, "note")
}

// NewWriter writes to out in the form that a path's ending names: .jsonl, .csv or .parquet, the first two also with .gz
// or .zst behind.
func NewWriter(path string, out io.Writer, observables []string) (*Writer, error) {
	w := &Writer{}
	kind := kindOf(path)
	if kind == ".parquet" {
		w.sink = newParquet(out, Columns(observables))
		return w, nil
	}
	switch {
	case strings.HasSuffix(path, ".gz"):
		z := gzip.NewWriter(out)
		w.closers, out = append(w.closers, z), z
	case strings.HasSuffix(path, ".zst"):
		z, err := zstd.NewWriter(out, zstd.WithEncoderConcurrency(1))
		if err != nil {
			return nil, err
		}
		w.closers, out = append(w.closers, z), z
	}
	switch kind {
	case ".jsonl", ".ndjson":
		w.sink = &lineSink{bufio.NewWriter(out)}
	case ".csv":
		columns := Columns(observables)
		c := csv.NewWriter(out)
		if err := c.Write(columns); err != nil {
			return nil, err
		}
		w.sink = &tableSink{csv: c, columns: columns}
	default:
		return nil, fmt.Errorf("%s ends in no form that is written: .jsonl, .csv or .parquet, the first two also "+
			"with .gz or .zst", path)
	}
	return w, nil
}

// Write writes a record.
func (w *Writer) Write(r *Raw) error {
	var out diag.List
	n := r.Tree(&out)
	if err := out.Err(); err != nil {
		return err
	}
	if n == nil || n.Kind != syntax.Map {
		return errors.New("a record is an object, in braces")
	}
	return w.write(n)
}

// Close ends the archive; the underlying writer stays open.
func (w *Writer) Close() error {
	err := w.close()
	for _, c := range w.closers {
		if e := c.Close(); err == nil {
			err = e
		}
	}
	return err
}

type lineSink struct{ out *bufio.Writer }

func (s *lineSink) write(n *syntax.Node) error {
	line := JSON(n)
	if len(line) >= MaxLine {
		return errTooLong
	}
	if _, err := s.out.WriteString(line); err != nil {
		return err
	}
	return s.out.WriteByte('\n')
}

func (s *lineSink) close() error { return s.out.Flush() }

type tableSink struct {
	csv     *csv.Writer
	columns []string
}

func (s *tableSink) write(n *syntax.Node) error {
	cells, err := cellsFor(n, s.columns)
	if err != nil {
		return err
	}
	size := 0
	for _, c := range cells {
		size += len(c) + strings.Count(c, `"`) + len(`"",`)
	}
	if size > MaxRow {
		return errTooLongRow
	}
	return s.csv.Write(cells)
}

func (s *tableSink) close() error {
	s.csv.Flush()
	return s.csv.Error()
}

// cellsFor lays a case out under columns. What no column holds, or no cell can say, is an error: nothing is lost
// silently.
func cellsFor(n *syntax.Node, columns []string) ([]string, error) {
	cells := make([]string, len(columns))
	put := func(path string, v *syntax.Node) (err error) {
		i := slices.Index(columns, path)
		switch {
		case i >= 0:
			cells[i], err = cellText(path, v)
		case !v.IsNull():
			err = fmt.Errorf("there is no column for %s", path)
		}
		return err
	}
	for _, e := range n.Entries {
		inside := e.Value.Kind == syntax.Map && (e.Key.Text == "stone" || e.Key.Text == "readings" ||
			e.Key.Text == "recorded")
		if !inside {
			if err := put(e.Key.Text, e.Value); err != nil {
				return nil, err
			}
			continue
		}
		for _, f := range e.Value.Entries {
			if err := put(e.Key.Text+"."+f.Key.Text, f.Value); err != nil {
				return nil, err
			}
		}
	}
	return cells, nil
}

// cellText writes a value so that reading the cell gives the same value: as it is where that is unmistakable, as JSON
// where it isn't. A null that says nothing is an empty cell.
func cellText(path string, v *syntax.Node) (string, error) {
	c := newColumn(path, path, nil)
	switch {
	case v.IsNull():
		if path == "format" || c.path[0] == "readings" {
			return "", fmt.Errorf("%s is null, which no case says", path)
		}
		return "", nil
	case c.textual:
		return textCell(path, v)
	case v.Kind != syntax.Scalar || v.Style != syntax.JSONString || v.Text == "" || v.Text != strings.TrimSpace(v.Text):
		return JSON(v), nil
	}
	var out diag.List
	if back := c.value(diag.NewSource(path, []byte(v.Text)), v.Text, &out); back != nil &&
		back.Style == syntax.JSONString && back.Text == v.Text {
		return v.Text, nil
	}
	return JSON(v), nil
}

// textCell is a text as it is. An empty one says nothing, where nothing may be said.
func textCell(path string, v *syntax.Node) (string, error) {
	if v.Kind != syntax.Scalar || v.Style != syntax.JSONString {
		return "", fmt.Errorf("%s is no text, and its column holds nothing else", path)
	}
	if v.Text == "" && path != "claim" && path != "desk" && path != "by" && path != "note" {
		return "", fmt.Errorf("%s is an empty text, which no cell can say", path)
	}
	return v.Text, nil
}

// JSON writes a tree as JSON on one line, its keys in their order.
func JSON(n *syntax.Node) string {
	var b strings.Builder
	writeJSON(&b, n)
	return b.String()
}

func writeJSON(b *strings.Builder, n *syntax.Node) {
	switch n.Kind {
	case syntax.Map:
		b.WriteByte('{')
		for i, e := range n.Entries {
			if i > 0 {
				b.WriteByte(',')
			}
			b.WriteString(quote(e.Key.Text) + ":")
			writeJSON(b, e.Value)
		}
		b.WriteByte('}')
	case syntax.List:
		b.WriteByte('[')
		for i, it := range n.Items {
			if i > 0 {
				b.WriteByte(',')
			}
			writeJSON(b, it)
		}
		b.WriteByte(']')
	default:
		if n.Style == syntax.JSONNumber || n.Style == syntax.JSONWord {
			b.WriteString(n.Text)
			return
		}
		b.WriteString(quote(n.Text))
	}
}

func quote(s string) string {
	var b strings.Builder
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(s); err != nil {
		return `""`
	}
	return strings.TrimSuffix(b.String(), "\n")
}
