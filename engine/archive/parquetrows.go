package archive

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/parquet-go/parquet-go"
)

// The rows of a Parquet file are put together from its columns, some values of each at a time. Most columns keep their
// texts in a dictionary, each once, and give them by number. Such a text is made once for the whole file, and its cells
// bear a number of the file's, so that whoever reads them can remember what they were read as without looking at the
// text again.

// parquetTable is a file at hand.
type parquetTable struct {
	path     string
	header   *Header
	leaves   []leaf
	row      int // that was read last, from 1
	numbered int // how many texts bear a number
	shelf    shelf
}

// mostNumbered bounds how many texts of a file bear a number.
const mostNumbered = 1 << 15

// group reads the rows of a row group. Each column must have as many values as the group says rows.
func (t *parquetTable) group(ctx context.Context, g parquet.RowGroup, yield func(*Raw) bool) (more bool, err error) {
	values := make([]cursor, len(t.leaves))
	defer func() {
		for i := range values {
			values[i].close()
		}
	}()
	err = guarded(func() error {
		chunks := g.ColumnChunks()
		for i, l := range t.leaves {
			values[i].pages = chunks[l.index].Pages()
		}
		return nil
	})
	if err != nil {
		return false, damaged("%s", err)
	}
	for range g.NumRows() {
		if ctx.Err() != nil {
			return false, ctx.Err()
		}
		r := t.shelf.raw(Raw{File: t.path, Line: t.row + 1, Header: t.header, Width: len(t.header.columns)})
		if err := guarded(func() error { return t.cells(r, values) }); err != nil {
			return false, damaged("row %d, %s", r.Line, err)
		}
		if r.Size() > MaxRow {
			r.Cells, r.Width, r.Err = nil, 0, errTooLongRow
		}
		t.row++
		if !yield(r) {
			return false, nil
		}
	}
	for i := range t.leaves {
		l := &t.leaves[i]
		if err := guarded(func() error { return values[i].more(t, l) }); !errors.Is(err, io.EOF) {
			return false, damaged("the column %q has more values than there are rows", l.name)
		}
	}
	return true, nil
}

// cells reads a row's.
func (t *parquetTable) cells(r *Raw, values []cursor) error {
	cells := t.shelf.open()
	for i := range values {
		c := &values[i]
		if c.at == c.n {
			err := c.more(t, &t.leaves[i])
			if errors.Is(err, io.EOF) {
				err = errors.New("it ends too early")
			}
			if err != nil {
				return fmt.Errorf("column %q: %w", t.leaves[i].name, err)
			}
		}
		if cell := &c.held[c.at]; cell.Text != "" {
			cells = append(cells, *cell)
		}
		c.at++
	}
	r.Cells = t.shelf.close(cells)
	return nil
}

// cell is what a value says.
func (t *parquetTable) cell(l *leaf, v parquet.Value) Cell {
	c := Cell{Column: int32(l.column)}
	switch {
	case v.IsNull():
	case l.text == nil:
		c.Text = t.shelf.keep(v.ByteArray())
	default:
		c.Text = l.text(v)
	}
	return c
}

// dictionary is what the values of a dictionary say, those that are not too long by number.
func (t *parquetTable) dictionary(l *leaf, d parquet.Dictionary) []Cell {
	out := make([]Cell, d.Len())
	for i := range out {
		c := t.cell(l, d.Index(int32(i)))
		number, ok := l.words[c.Text]
		if !ok && t.numbered < mostNumbered && len(c.Text) <= longestNumbered {
			t.numbered++
			number = int32(len(l.words) + 1)
			l.words[strings.Clone(c.Text)] = number
		}
		c.Number = number
		out[i] = c
	}
	return out
}

// longestNumbered is how long a text may be that bears a number, in bytes.
const longestNumbered = 1024

// cursor goes through the values of a column.
type cursor struct {
	pages parquet.Pages
	page  parquet.Page
	// what is left of the page: its values; or, where they stand in a dictionary, which of its rows have one, and the
	// numbers of those
	values  parquet.ValueReader
	given   []byte
	numbers []int32
	dense   bool // every row has one, and nothing is given
	words   []Cell
	of      parquet.Dictionary // whose words they are
	held    [64]Cell           // the next cells
	at, n   int
}

// more sees to it that there is a next cell. After the last one the error is io.EOF.
func (c *cursor) more(t *parquetTable, l *leaf) (err error) {
	for c.at == c.n && err == nil {
		c.at, c.n = 0, 0
		switch {
		case c.values != nil:
			err = c.read(t, l)
		case len(c.given) > 0 || c.dense && len(c.numbers) > 0:
			err = c.byNumber()
		default:
			err = c.next(t, l)
		}
	}
	return err
}

// read reads the next cells.
func (c *cursor) read(t *parquetTable, l *leaf) error {
	var held [len(c.held)]parquet.Value // good while the page is
	n, err := c.values.ReadValues(held[:])
	if errors.Is(err, io.EOF) {
		c.values, err = nil, nil
	}
	for i, v := range held[:n] {
		c.held[i] = t.cell(l, v)
	}
	c.n = n
	return err
}

// next goes to the next page.
func (c *cursor) next(t *parquetTable, l *leaf) (err error) {
	parquet.Release(c.page)
	if c.page, err = c.pages.ReadPage(); err != nil {
		return err
	}
	d := c.page.Dictionary()
	if d == nil {
		c.values = c.page.Values()
		return nil
	}
	if d != c.of {
		c.words, c.of = t.dictionary(l, d), d
	}
	numbers := c.page.Data()
	c.given, c.numbers = c.page.DefinitionLevels(), numbers.Int32()
	c.dense = len(c.given) == 0
	return nil
}

// byNumber gives the next cells of a page whose values stand in a dictionary.
func (c *cursor) byNumber() error {
	left := len(c.given)
	if c.dense {
		left = len(c.numbers)
	}
	for ; c.n < min(left, len(c.held)); c.n++ {
		if !c.dense && c.given[c.n] == 0 {
			c.held[c.n] = Cell{}
			continue
		}
		if len(c.numbers) == 0 || uint(c.numbers[0]) >= uint(len(c.words)) {
			return errors.New("a value is missing")
		}
		c.held[c.n], c.numbers = c.words[c.numbers[0]], c.numbers[1:]
	}
	if !c.dense {
		c.given = c.given[c.n:]
	}
	return nil
}

func (c *cursor) close() {
	if c.pages != nil {
		_ = guarded(func() error { parquet.Release(c.page); return c.pages.Close() }) // only read from
	}
}
