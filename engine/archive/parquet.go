package archive

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"time"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/format"

	"whystone/kb/syntax"
)

// A Parquet archive is written with the columns of a table, each an optional text, so that it holds what CSV holds and
// any program that reads Parquet can read it. Columns of numbers, truths and times, as other programs write them, are
// read too.

type parquetSink struct {
	out     *parquet.GenericWriter[any]
	columns []string // in the order of the schema
	size    int      // of the row group at hand
}

func newParquet(out io.Writer, columns []string) sink {
	group := parquet.Group{}
	options := []parquet.WriterOption{nil, parquet.MaxRowsPerRowGroup(parquetRows), parquet.DataPageStatistics(false)}
	for _, c := range columns {
		text := parquet.String()
		if !slices.Contains(unlike, c) {
			text = parquet.Encoded(text, &parquet.RLEDictionary)
		}
		group[c] = parquet.Optional(parquet.Compressed(text, &parquet.Zstd))
		options = append(options, parquet.SkipPageBounds(c)) // they repeat a long note four times over, uncompressed
	}
	options[0] = parquet.NewSchema("case", group)
	sorted := slices.Sorted(slices.Values(columns)) // a group's columns are sorted by name
	return &parquetSink{out: parquet.NewGenericWriter[any](out, options...), columns: sorted}
}

// unlike are the columns in which hardly a text is there twice; of all others the texts stand in a dictionary, each once.
var unlike = []string{"case", "taken", "note"}

// A row group is kept in memory while it is written, so that its records and its bytes are bounded.
const (
	parquetRows  = 20_000
	parquetBytes = 16 << 20
)

func (s *parquetSink) write(n *syntax.Node) error {
	cells, err := cellsFor(n, s.columns)
	if err != nil {
		return err
	}
	r := make(parquet.Row, len(cells))
	size := 0
	for i, c := range cells {
		if size += len(c); c == "" {
			r[i] = parquet.NullValue().Level(0, 0, i)
		} else {
			r[i] = parquet.ByteArrayValue([]byte(c)).Level(0, 1, i)
		}
	}
	if size > MaxRow {
		return errTooLongRow
	}
	if _, err := s.out.WriteRows([]parquet.Row{r}); err != nil {
		return err
	}
	if s.size += size; s.size < parquetBytes {
		return nil
	}
	s.size = 0
	return s.out.Flush()
}

func (s *parquetSink) close() error { return s.out.Close() }

// parquet reads the columns that count, value by value beside each other, and holds a page of each. What the file says
// of itself is counted after: a damaged one may end a column early and call it well.
func (in *Input) parquet(ctx context.Context, path string, yield func(*Raw) bool) error {
	f, info, err := openRegular(path)
	if err != nil {
		return err
	}
	defer func() { _ = f.Close() }() // only read from
	var pf *parquet.File
	if err := guarded(func() (err error) {
		pf, err = parquet.OpenFile(f, info.Size(), parquet.SkipPageIndex(true), parquet.SkipBloomFilters(true))
		return err
	}); err != nil {
		return errors.New("it is damaged, or no Parquet file")
	}
	leaves, h, err := in.leaves(pf)
	if err != nil {
		return err
	}
	t := &parquetTable{path: path, header: h, leaves: leaves}
	for _, g := range pf.RowGroups() {
		more, err := t.group(ctx, g, yield)
		if err != nil || !more {
			return err
		}
		if rows := pf.NumRows(); in.Read != nil && rows > 0 {
			in.Read.Add(info.Size() * g.NumRows() / rows)
		}
	}
	if int64(t.row) != pf.NumRows() {
		return damaged("it holds %d rows, and says %d", t.row, pf.NumRows())
	}
	return nil
}

// openRegular opens a file that is read from its end.
func openRegular(path string) (*os.File, os.FileInfo, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, nil, plainError(err)
	}
	if !info.Mode().IsRegular() {
		//nolint:staticcheck // a name begins it
		return nil, nil, errors.New("Parquet is read from its end, and this is no file that has one")
	}
	f, err := os.Open(path)
	return f, info, plainError(err)
}

// leaf is a column that is read.
type leaf struct {
	column int // of the table
	index  int // of the file's columns that hold values
	name   string
	text   func(parquet.Value) string // nil: the value's bytes are the text
	words  map[string]int32           // the numbers of texts that stand in dictionaries
}

// leaves are the columns that the mapping names, or all.
func (in *Input) leaves(pf *parquet.File) ([]leaf, *Header, error) {
	var names []string
	columns := pf.Root().Columns()
	for _, c := range columns {
		names = append(names, c.Name())
	}
	h, err := header(names, in.Mapping)
	if err != nil {
		return nil, nil, err
	}
	var out []leaf
	for i, c := range columns {
		if h.columns[i].extra {
			continue
		}
		l := leaf{column: i, name: c.Name(), words: map[string]int32{}}
		if err := guarded(func() error { return l.read(c) }); err != nil {
			return nil, nil, fmt.Errorf("its column %q %w", l.name, err)
		}
		out = append(out, l)
	}
	return out, h, nil
}

// read finds out how the column is read.
func (l *leaf) read(c *parquet.Column) error {
	if l.text = reading(c); l.text == nil {
		return errors.New("holds neither text nor plain numbers, truths or times")
	}
	if c.Type().Kind() == parquet.ByteArray {
		l.text = nil
	}
	// the library unpacks a damaged one without end
	if codec := c.Compression(); codec != nil && codec.CompressionCodec() == format.Lz4Raw {
		return errors.New("is compressed by LZ4, which is not read; gzip, snappy and zstd are")
	}
	l.index = c.Index()
	return nil
}

// reading is how a column's values are written as text; nil when they are none of texts, numbers, truths and times: of
// the rest nothing is guessed.
func reading(c *parquet.Column) func(parquet.Value) string {
	if !c.Leaf() || c.Repeated() {
		return nil
	}
	var logical any
	if l := c.Type().LogicalType(); l != nil {
		logical = l.Value
	}
	kind := c.Type().Kind()
	switch l := logical.(type) {
	case *format.DateType:
		return func(v parquet.Value) string {
			return time.Unix(int64(v.Int32())*24*60*60, 0).UTC().Format(time.DateOnly)
		}
	case *format.TimestampType:
		return timestamp(l)
	case *format.IntType:
		if !l.IsSigned {
			return func(v parquet.Value) string { return strconv.FormatUint(unsigned(v), 10) }
		}
		return parquet.Value.String
	case nil, *format.StringType, *format.EnumType, *format.JsonType:
		switch kind {
		case parquet.Int96:
			return func(v parquet.Value) string { return oldTime(v).Format(time.RFC3339Nano) }
		case parquet.ByteArray, parquet.Boolean, parquet.Int32, parquet.Int64, parquet.Float, parquet.Double:
			return parquet.Value.String
		}
	}
	return nil
}

func unsigned(v parquet.Value) uint64 {
	if v.Kind() == parquet.Int32 {
		return uint64(v.Uint32())
	}
	return v.Uint64()
}

// timestamp writes a time as a case has it: with its zone where the file knows it, else as it stood on the clock.
func timestamp(l *format.TimestampType) func(parquet.Value) string {
	layout := "2006-01-02T15:04:05.999999999"
	if l.IsAdjustedToUTC {
		layout = time.RFC3339Nano
	}
	if l.Unit.Value == nil {
		return nil
	}
	step := int64(l.Unit.Value.Duration())
	perSecond := int64(time.Second) / step
	return func(v parquet.Value) string {
		n := v.Int64()
		return time.Unix(n/perSecond, n%perSecond*step).UTC().Format(layout)
	}
}

// oldTime reads a time of 96 bits, as older programs write it: nanoseconds of the day, and the Julian day.
func oldTime(v parquet.Value) time.Time {
	const epoch = 2_440_588 // the Julian day of 1970-01-01
	i := v.Int96()
	return time.Unix((int64(i[2])-epoch)*24*60*60, int64(i[1])<<32|int64(i[0])).UTC()
}

func damaged(format string, args ...any) error {
	return fmt.Errorf("it is damaged: "+format, args...)
}

// guarded calls the library, which panics on some damaged files. What is done with the rows is not guarded: a fault
// there is not the file's.
func guarded(call func() error) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("%v", p)
		}
	}()
	return call()
}
