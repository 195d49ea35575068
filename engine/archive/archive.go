// Package archive reads and writes archives of cases: JSON lines, CSV and Parquet, the text forms also compressed.
//
// An archive is streamed: nothing here holds more than a few records. Reading has two halves, so that many processors
// can share it: [Each] cuts the files into [Raw] records in order, and [Decoder.Decode] turns one into a case,
// anywhere.
package archive

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"sync/atomic"

	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/syntax"
)

// Raw is one record of an archive, not yet read as a case.
type Raw struct {
	File string
	Line int // from 1; of a Parquet file the row
	// Text is the record as JSON, a part of a larger text; else Header and Cells are a row of a table.
	Text   string
	Header *Header
	Cells  []Cell // those that are not empty, by column
	Width  int    // how many cells the row has, the empty ones among them
	// Err says why the record can't be read at all.
	Err error
}

// Cell is a cell of a row that is not empty.
type Cell struct {
	Column int32
	// Number is that of its text among the texts which a Parquet file gives by number, from 1: cells of a column that
	// bear one number say the same. 0: it has none.
	Number int32
	Text   string
}

// Row is all cells of a row.
func (r *Raw) Row() []string {
	out := make([]string, r.Width)
	for _, c := range r.Cells {
		out[c.Column] = c.Text
	}
	return out
}

// Place names where the record stands.
func (r *Raw) Place() string { return fmt.Sprintf("%s:%d", r.File, r.Line) }

// Size is about how many bytes the record takes.
func (r *Raw) Size() int {
	size := 256 + len(r.Text) + 16*r.Width
	for i := range r.Cells {
		size += len(r.Cells[i].Text)
	}
	return size
}

// Stdin is the path that means standard input.
const Stdin = "-"

// Paths opens globs: each path that names no file is taken as a pattern, whose matches are sorted. A file that is named
// twice is refused, as its cases would be counted twice. What other takes for the name of no file stays as it is; other
// may be nil.
func Paths(patterns []string, other func(name string) bool) ([]string, error) {
	var out []string
	for _, p := range patterns {
		if _, err := os.Stat(p); p == Stdin || err == nil || other != nil && other(p) {
			out = append(out, p)
			continue
		}
		found, err := filepath.Glob(p)
		if err != nil {
			return nil, fmt.Errorf("%s is no pattern that can be read: %w", p, err)
		}
		if len(found) == 0 {
			return nil, fmt.Errorf("there is no archive %s", p)
		}
		slices.Sort(found)
		out = append(out, found...)
	}
	return out, once(out)
}

// once sees to it that no file is there twice, by whatever names.
func once(paths []string) error {
	infos := make([]os.FileInfo, len(paths))
	for i, p := range paths {
		infos[i], _ = os.Stat(p) // one that can't be read is told when it is
		for k, q := range paths[:i] {
			if p == q || infos[i] != nil && infos[k] != nil && os.SameFile(infos[i], infos[k]) {
				return Twice(q, p)
			}
		}
	}
	return nil
}

// Twice says that two names are of one archive.
func Twice(a, b string) error {
	if a == b {
		return fmt.Errorf("%s is there twice, and would be counted twice", a)
	}
	return fmt.Errorf("%s and %s are one archive, and would be counted twice", a, b)
}

// Input is what is read.
type Input struct {
	Paths   []string
	Stdin   io.Reader // of the path "-"
	Mapping *Mapping  // nil: columns bear a case's own names
	// Lines gives the JSON lines of a path that is no file's; ok is false for a file. It may be nil.
	Lines func(ctx context.Context, path string) (lines io.ReadCloser, ok bool)
	// Read counts the bytes that were taken from files, if somebody wants to know.
	Read *atomic.Int64
}

// Regular tells whether all archives are files that can be read again.
func (in *Input) Regular() bool {
	return !slices.ContainsFunc(in.Paths, func(path string) bool {
		info, err := os.Stat(path)
		return path == Stdin || err != nil || !info.Mode().IsRegular()
	})
}

// Size is how many bytes the archives have together, or 0 when one of them doesn't say.
func (in *Input) Size() (size int64) {
	if !in.Regular() {
		return 0
	}
	for _, path := range in.Paths {
		if info, err := os.Stat(path); err == nil {
			size += info.Size()
		}
	}
	return size
}

// Each reads the archives in order and calls yield with each record, until it returns false. A record that can't be cut
// out comes with Err. An archive that can't be read any further ends with an error.
func Each(ctx context.Context, in Input, yield func(*Raw) bool) error {
	more := true
	for _, path := range in.Paths {
		if !more {
			return nil
		}
		if err := in.each(ctx, path, func(r *Raw) bool { more = yield(r); return more }); err != nil {
			return err
		}
	}
	return nil
}

// each reads one archive. An error says how far it came.
func (in *Input) each(ctx context.Context, path string, yield func(*Raw) bool) error {
	read, last := in.text, 0
	if kindOf(path) == ".parquet" {
		read = in.parquet
	}
	err := read(ctx, path, func(r *Raw) bool {
		last = r.Line
		return ctx.Err() == nil && yield(r)
	})
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case err == nil:
		return nil
	case last > 0:
		return fmt.Errorf("%s can't be read any further than %s:%d: %w", path, path, last, err)
	}
	return fmt.Errorf("%s can't be read: %w", path, err)
}

func (in *Input) text(ctx context.Context, path string, yield func(*Raw) bool) error {
	from, err := in.open(ctx, path)
	if err != nil {
		return err
	}
	defer func() { _ = from.Close() }() // only read from
	text, err := decompress(path, from)
	if err != nil {
		return err
	}
	defer func() { _ = text.Close() }() // only read from
	cut, held := eachLine, 256<<10
	if kindOf(path) == ".csv" || path == Stdin && in.Mapping != nil {
		held = MaxRow
		cut = func(path string, r *bufio.Reader, yield func(*Raw) bool) error {
			return eachRow(path, r, in.Mapping, yield)
		}
	}
	r := bufio.NewReaderSize(text, held)
	if err := passMark(r); err != nil {
		return err
	}
	return cut(path, r, yield)
}

// Decoder turns records into cases. Safe for concurrent use.
type Decoder struct{ Reader *casefile.Reader }

// Decode reads a record as a case. The case is nil when it can't be used, and the list says why; its spans point into
// the record's own text, Place says where that stands.
func (d *Decoder) Decode(r *Raw) (*casefile.Case, diag.List) {
	var out diag.List
	n := r.Tree(&out)
	if n == nil || out.HasErrors() {
		return nil, out
	}
	if rs, most := n.Get("readings"), len(d.Reader.Vocabulary.Observables)+mostUnknown; rs != nil &&
		len(rs.Entries) > most {
		out.Errorf("too-long", rs.Span, "the case has %d readings, and there are %d observables", len(rs.Entries),
			most-mostUnknown)
		return nil, out
	}
	return d.Reader.Read(n, &out), out
}

// mostUnknown is how many readings may be of observables that nobody knows, for each to be told with the nearest known
// one.
const mostUnknown = 100

// MaxValues bounds the values of a record: texts, numbers, lists and objects, as deep as they stand. No case has as
// many; each would take its time to be refused.
const MaxValues = 10_000

// Tree is a record as a tree of values, or nil.
func (r *Raw) Tree(out *diag.List) *syntax.Node {
	switch {
	case r.Err != nil:
		out.Errorf(diag.FileUnreadable, diag.Span{}, "%s", r.Err)
		return nil
	case r.Header != nil:
		return r.Header.node(r, out)
	}
	src := diag.NewSource(r.Place(), []byte(r.Text))
	if valuesIn(src.Text) > MaxValues {
		crowded(src, out)
		return nil
	}
	return syntax.ParseJSON(src, out)
}

// ID is the number or name of the record's case, as far as it can be read.
func (r *Raw) ID() string {
	var l diag.List
	if id := r.Tree(&l).Get("case"); id != nil && id.Kind == syntax.Scalar {
		return id.Text
	}
	return ""
}

// valuesIn counts the values of a JSON text that is long enough to have too many, before a tree is made of it; of one
// that is no JSON it counts something.
func valuesIn(text []byte) int {
	if len(text) <= MaxValues {
		return 1 // it can't have too many
	}
	n, quoted := 1, false
	for i := 0; i < len(text); i++ {
		switch c := text[i]; {
		case quoted && c == '\\':
			i++
		case c == '"':
			quoted = !quoted
		case !quoted && (c == ',' || c == '[' || c == '{'):
			n++
		}
	}
	return n
}

func crowded(src *diag.Source, out *diag.List) {
	out.Errorf(diag.TooLong, diag.Span{Source: src}, "the record holds more than the %d values that are read",
		MaxValues)
}
