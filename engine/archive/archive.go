// Package archive reads and writes archives of cases: JSON lines, CSV and Parquet, the text forms also compressed.
//
// An archive is streamed: nothing here holds more than a record. Reading has two halves, so that many processors can
// share it: [Each] cuts the files into [Raw] records in order, and [Decoder.Decode] turns one into a case, anywhere.
package archive

import (
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"

	"github.com/klauspost/compress/zstd"

	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/doc"
)

// Raw is one record of an archive, not yet read as a case.
type Raw struct {
	File string
	Line int // from 1; of a Parquet file the row
	// Text is the record as JSON; else Header and Cells are a row of a table.
	Text   []byte
	Header *Header
	Cells  []string
	// Err says why the record can't be read at all.
	Err error
}

// Place names where the record stands.
func (r *Raw) Place() string { return fmt.Sprintf("%s:%d", r.File, r.Line) }

// Stdin is the path that means standard input.
const Stdin = "-"

// Paths opens globs: each path that names no file is taken as a pattern, whose matches are sorted.
func Paths(patterns []string) ([]string, error) {
	var out []string
	for _, p := range patterns {
		if _, err := os.Stat(p); p == Stdin || err == nil {
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
	return out, nil
}

// Input is what is read.
type Input struct {
	Paths   []string
	Stdin   io.Reader // of the path "-"
	Mapping *Mapping  // nil: columns bear a case's own names
	// Read counts the bytes that were taken from files, if somebody wants to know.
	Read *atomic.Int64
}

// Size is how many bytes the archives have together, or 0 when one of them doesn't say.
func (in *Input) Size() (size int64) {
	for _, path := range in.Paths {
		info, err := os.Stat(path)
		if path == Stdin || err != nil {
			return 0
		}
		size += info.Size()
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
		err := in.each(ctx, path, func(r *Raw) bool {
			more = ctx.Err() == nil && yield(r)
			return more
		})
		if err != nil {
			return fmt.Errorf("%s can't be read: %w", path, err)
		}
		if err := ctx.Err(); err != nil {
			return err
		}
	}
	return nil
}

func (in *Input) each(ctx context.Context, path string, yield func(*Raw) bool) error {
	if path == Stdin {
		from := until(ctx, in.Stdin)
		defer func() { _ = from.Close() }() // only read from
		return in.text(path, from, yield)
	}
	f, err := os.Open(path)
	if err != nil {
		return plainError(err)
	}
	defer func() { _ = f.Close() }() // only read from
	if kindOf(path) == ".parquet" {
		return in.eachParquet(ctx, path, f, yield)
	}
	return in.text(path, counted{f, in.Read}, yield)
}

func (in *Input) text(path string, from io.Reader, yield func(*Raw) bool) error {
	text, err := decompress(path, from)
	if err != nil {
		return err
	}
	defer func() { _ = text.Close() }() // only read from
	if kindOf(path) == ".csv" || path == Stdin && in.Mapping != nil {
		return eachRow(path, text, in.Mapping, yield)
	}
	return eachLine(path, text, yield)
}

// until is a reader that ends with ctx. A read of standard input can't be broken off, so a goroutine of its own makes it,
// which ends with its next read.
func until(ctx context.Context, in io.Reader) io.ReadCloser {
	out, to := io.Pipe()
	stop := context.AfterFunc(ctx, func() { to.CloseWithError(ctx.Err()) })
	go func() {
		_, err := io.Copy(to, in)
		stop()
		to.CloseWithError(err)
	}()
	return out
}

// counted is a reader whose bytes are counted.
type counted struct {
	io.Reader
	n *atomic.Int64
}

func (c counted) Read(p []byte) (int, error) {
	n, err := c.Reader.Read(p)
	if c.n != nil {
		c.n.Add(int64(n))
	}
	return n, err
}

// kindOf is a file's ending, that of compression taken off.
func kindOf(path string) string {
	for _, c := range []string{".gz", ".zst"} {
		path = strings.TrimSuffix(path, c)
	}
	return strings.ToLower(filepath.Ext(path))
}

func decompress(path string, in io.Reader) (io.ReadCloser, error) {
	switch {
	case strings.HasSuffix(path, ".gz"):
		return gzip.NewReader(in)
	case strings.HasSuffix(path, ".zst"):
		d, err := zstd.NewReader(in, zstd.WithDecoderMaxMemory(256<<20), zstd.WithDecoderConcurrency(1))
		if err != nil {
			return nil, err
		}
		return d.IOReadCloser(), nil
	}
	return io.NopCloser(in), nil
}

// plainError takes the path off a file error, as it is told beside it.
func plainError(err error) error {
	var pe *os.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	return err
}

// Decoder turns records into cases. Safe for concurrent use.
type Decoder struct{ Reader *casefile.Reader }

// Decode reads a record as a case. The case is nil when it can't be used, and the list says why; its spans point into
// the record's own text, Place says where that stands.
func (d *Decoder) Decode(r *Raw) (*casefile.Case, diag.List) {
	var out diag.List
	if r.Err != nil {
		out.Errorf("file-unreadable", diag.Span{}, "%s", r.Err)
		return nil, out
	}
	var n *doc.Node
	if r.Header != nil {
		n = r.Header.node(r, &out)
	} else {
		n = doc.ParseJSON(diag.NewSource(r.Place(), r.Text), &out)
	}
	if n == nil || out.HasErrors() {
		return nil, out
	}
	return d.Reader.Read(n, &out), out
}
