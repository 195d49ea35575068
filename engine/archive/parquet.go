package archive

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/format"

	"whystone/kb/doc"
)

// A Parquet archive is written with the columns of a table, each an optional text, so that it holds what CSV holds and any
// program that reads Parquet can read it. Columns of numbers and truths, as other programs write them, are read too.

type parquetSink struct {
	out     *parquet.GenericWriter[any]
	columns []string // in the order of the schema
}

func newParquet(out io.Writer, columns []string) sink {
	group := parquet.Group{}
	for _, c := range columns {
		group[c] = parquet.Optional(parquet.Compressed(parquet.String(), &parquet.Zstd))
	}
	sorted := slices.Sorted(slices.Values(columns)) // a group's columns are sorted by name
	return &parquetSink{out: parquet.NewGenericWriter[any](out, parquet.NewSchema("case", group), parquet.MaxRowsPerRowGroup(parquetRows)), columns: sorted}
}

// parquetRows is how many records a row group holds: what is kept in memory while writing.
const parquetRows = 20_000

func (s *parquetSink) write(n *doc.Node) error {
	cells, err := row(n, s.columns)
	if err != nil {
		return err
	}
	r := make(parquet.Row, len(cells))
	for i, c := range cells {
		if c == "" {
			r[i] = parquet.NullValue().Level(0, 0, i)
		} else {
			r[i] = parquet.ByteArrayValue([]byte(c)).Level(0, 1, i)
		}
	}
	_, err = s.out.WriteRows([]parquet.Row{r})
	return err
}

func (s *parquetSink) close() error { return s.out.Close() }

func (in *Input) eachParquet(ctx context.Context, path string, f *os.File, yield func(*Raw) bool) error {
	info, err := f.Stat()
	if err != nil {
		return plainError(err)
	}
	var pf *parquet.File
	if err := guarded(func() (err error) { pf, err = parquet.OpenFile(f, info.Size()); return err }); err != nil {
		return errDamaged
	}
	var names []string
	for _, c := range pf.Root().Columns() {
		if !readable(c) {
			return fmt.Errorf("its column %q holds neither text nor plain numbers", c.Name())
		}
		names = append(names, c.Name())
	}
	h, err := header(names, in.Mapping)
	if err != nil {
		return err
	}
	number := 0
	for _, g := range pf.RowGroups() {
		more, err := eachRowOf(ctx, g, path, h, &number, yield)
		if err != nil || !more {
			return err
		}
		if rows := pf.NumRows(); in.Read != nil && rows > 0 {
			in.Read.Add(info.Size() * g.NumRows() / rows)
		}
	}
	return nil
}

// readable tells whether a column's values are texts, numbers or truths; of numbers that stand for dates and the like
// nothing is guessed.
func readable(c *parquet.Column) bool {
	if !c.Leaf() || c.Repeated() {
		return false
	}
	switch c.Type().Kind() {
	case parquet.ByteArray:
		return true
	case parquet.Boolean, parquet.Int32, parquet.Int64, parquet.Float, parquet.Double:
		l := c.Type().LogicalType()
		if l == nil || l.Value == nil {
			return true
		}
		_, integer := l.Value.(*format.IntType)
		return integer
	}
	return false
}

var errDamaged = errors.New("it is damaged, or no Parquet file")

// guarded calls the library, which panics on some damaged files. What is done with the rows is not guarded: a fault
// there is not the file's.
func guarded(call func() error) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = errDamaged
		}
	}()
	return call()
}

func eachRowOf(ctx context.Context, g parquet.RowGroup, path string, h *Header, number *int, yield func(*Raw) bool) (more bool, err error) {
	var rows parquet.Rows
	if err := guarded(func() error { rows = g.Rows(); return nil }); err != nil {
		return false, err
	}
	defer func() { _ = rows.Close() }() // only read from
	buf := make([]parquet.Row, 256)
	for ctx.Err() == nil {
		n := 0
		err := guarded(func() (err error) { n, err = rows.ReadRows(buf); return err })
		for _, r := range buf[:n] {
			*number++
			cells := make([]string, len(h.columns))
			for _, v := range r {
				if !v.IsNull() {
					cells[v.Column()] = v.String()
				}
			}
			if !yield(&Raw{File: path, Line: *number, Header: h, Cells: cells}) {
				return false, nil
			}
		}
		if errors.Is(err, io.EOF) {
			return true, nil
		}
		if err != nil {
			return false, err
		}
	}
	return false, ctx.Err()
}
