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
	"whystone/kb/doc"
)

// Writer writes records in one of the forms. A record is written as what it says, so that converting loses nothing.
type Writer struct {
	sink
	closers []io.Closer // from the innermost
}

type sink interface {
	write(n *doc.Node) error
	close() error
}

// Columns are those of a table that can hold any case: the case's own keys, the stone's, and one for each observable.
func Columns(observables []string) []string {
	out := []string{"format", "case", "claim", "taken", "desk"}
	for _, k := range []string{"mounted", "warm", "wet", "coated", "carat", "length_mm", "width_mm", "depth_mm", "cut", "setting", "colour", "transparency"} {
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
		return nil, fmt.Errorf("%s ends in no form that is written: .jsonl, .csv or .parquet, the first two also with .gz or .zst", path)
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
	if n == nil || n.Kind != doc.Map {
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

// Tree is a record as a tree of values.
func (r *Raw) Tree(out *diag.List) *doc.Node {
	switch {
	case r.Err != nil:
		out.Errorf("file-unreadable", diag.Span{}, "%s", r.Err)
		return nil
	case r.Header != nil:
		return r.Header.node(r, out)
	default:
		return doc.ParseJSON(diag.NewSource(r.Place(), r.Text), out)
	}
}

type lineSink struct{ out *bufio.Writer }

func (s *lineSink) write(n *doc.Node) error {
	if _, err := s.out.WriteString(JSON(n)); err != nil {
		return err
	}
	return s.out.WriteByte('\n')
}

func (s *lineSink) close() error { return s.out.Flush() }

type tableSink struct {
	csv     *csv.Writer
	columns []string
}

func (s *tableSink) write(n *doc.Node) error {
	cells, err := row(n, s.columns)
	if err != nil {
		return err
	}
	return s.csv.Write(cells)
}

func (s *tableSink) close() error {
	s.csv.Flush()
	return s.csv.Error()
}

// row lays a case out under columns. What no column holds is an error: nothing is lost silently.
func row(n *doc.Node, columns []string) ([]string, error) {
	cells := make([]string, len(columns))
	put := func(path string, v *doc.Node) error {
		i := slices.Index(columns, path)
		if i < 0 {
			return fmt.Errorf("there is no column for %s", path)
		}
		cells[i] = cellText(path, v)
		return nil
	}
	for _, e := range n.Entries {
		inside := e.Value.Kind == doc.Map && (e.Key.Text == "stone" || e.Key.Text == "readings" || e.Key.Text == "recorded")
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

// cellText writes a value (a null, which says nothing, as an empty cell) so that reading the cell gives the same value: as it is where that is unmistakable, as JSON
// where it isn't.
func cellText(path string, v *doc.Node) string {
	if v.IsNull() {
		return ""
	}
	if v.Kind != doc.Scalar || v.Style != doc.JSONString {
		return JSON(v)
	}
	c := column{path: strings.SplitN(path, ".", 2)}
	src := diag.NewSource(path, []byte(v.Text))
	var out diag.List
	if v.Text != "" && v.Text == strings.TrimSpace(v.Text) {
		if back := c.value(src, v.Text, &out); back != nil && back.Style == doc.JSONString && back.Text == v.Text {
			return v.Text
		}
	}
	return JSON(v)
}

// JSON writes a tree as JSON on one line, its keys in their order.
func JSON(n *doc.Node) string {
	var b strings.Builder
	writeJSON(&b, n)
	return b.String()
}

func writeJSON(b *strings.Builder, n *doc.Node) {
	switch n.Kind {
	case doc.Map:
		b.WriteByte('{')
		for i, e := range n.Entries {
			if i > 0 {
				b.WriteByte(',')
			}
			b.WriteString(quote(e.Key.Text) + ":")
			writeJSON(b, e.Value)
		}
		b.WriteByte('}')
	case doc.List:
		b.WriteByte('[')
		for i, it := range n.Items {
			if i > 0 {
				b.WriteByte(',')
			}
			writeJSON(b, it)
		}
		b.WriteByte(']')
	default:
		if n.Style == doc.JSONNumber || n.Style == doc.JSONWord {
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
