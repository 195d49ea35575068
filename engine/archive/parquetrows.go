package archive

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/parquet-go/parquet-go"
)

// The rows of a Parquet file are put together from its columns, column by column for some rows at a time: most cells are
// empty, and those of a column are passed over together. Most columns keep their texts in a dictionary, each once, and give
// them by number. Such a text is made once for the whole file, and its cells bear a number of the file's, so that whoever
// reads them can remember what they were read as without looking at the text again.

// parquetTable is a file at hand.
type parquetTable struct {
	path     string
	header   *Header
	leaves   []leaf
	row      int // that was read last, from 1
	numbered int // how many texts bear a number
	rows     [rowsAtOnce][]Cell
	shelf    shelf
}

// rowsAtOnce is how many rows are put together at once.
const rowsAtOnce = 64

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
	for left := g.NumRows(); left > 0; {
		n := int(min(left, rowsAtOnce))
		n, wrong := t.together(values, n)
		for _, cells := range t.rows[:n] {
			if ctx.Err() != nil {
				return false, ctx.Err()
			}
			t.row++
			r := t.shelf.raw(Raw{File: t.path, Line: t.row, Header: t.header, Width: len(t.header.columns)})
			if r.Cells = t.shelf.close(append(t.shelf.open(), cells...)); r.Size() > MaxRow {
				r.Cells, r.Width, r.Err = nil, 0, errTooLongRow
			}
			if !yield(r) {
				return false, nil
			}
		}
		if wrong != nil {
			return false, damaged("row %d, %s", t.row+1, wrong)
		}
		left -= int64(n)
	}
	for i := range t.leaves {
		l := &t.leaves[i]
		if _, err := values[i].cells(t, l, t.rows[:1]); !errors.Is(err, io.EOF) {
			return false, damaged("the column %q has more values than there are rows", l.name)
		}
	}
	return true, nil
}

// together puts the next rows together. Where a column fails it says why, and how many rows are there before that.
func (t *parquetTable) together(values []cursor, n int) (rows int, wrong error) {
	for i := range t.rows {
		t.rows[i] = t.rows[i][:0]
	}
	for i := range values {
		l := &t.leaves[i]
		there, err := values[i].cells(t, l, t.rows[:n])
		if errors.Is(err, io.EOF) {
			err = fmt.Errorf("column %q: it ends too early", l.name)
		}
		if err != nil {
			n, wrong = there, err
		}
	}
	return n, wrong
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
}

// cells adds the next cells to rows, and tells to how many. After the last one the error is io.EOF.
func (c *cursor) cells(t *parquetTable, l *leaf, rows [][]Cell) (done int, err error) {
	err = guarded(func() error {
		for done < len(rows) {
			n, err := 0, error(nil)
			switch {
			case c.values != nil:
				n, err = c.read(t, l, rows[done:])
			case len(c.given) > 0 || c.dense && len(c.numbers) > 0:
				n, err = c.byNumber(rows[done:])
			default:
				err = c.next(t, l)
			}
			if err != nil {
				return fmt.Errorf("column %q: %w", l.name, err)
			}
			done += n
		}
		return nil
	})
	return done, err
}

// read reads the next cells.
func (c *cursor) read(t *parquetTable, l *leaf, rows [][]Cell) (int, error) {
	var held [rowsAtOnce]parquet.Value // good while the page is
	n, err := c.values.ReadValues(held[:len(rows)])
	if errors.Is(err, io.EOF) {
		c.values, err = nil, nil
	}
	for i, v := range held[:n] {
		if cell := t.cell(l, v); cell.Text != "" {
			rows[i] = append(rows[i], cell)
		}
	}
	return n, err
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

// byNumber adds the next cells of a page whose values stand in a dictionary.
func (c *cursor) byNumber(rows [][]Cell) (n int, err error) {
	if c.dense {
		for ; n < len(rows) && len(c.numbers) > 0 && err == nil; n++ {
			err = c.word(&rows[n])
		}
		return n, err
	}
	given := c.given[:min(len(rows), len(c.given))]
	for ; n < len(given) && err == nil; n++ {
		if some := given[n:]; len(some) >= 8 && binary.LittleEndian.Uint64(some) == 0 {
			n += 7 // most cells are empty
		} else if given[n] != 0 {
			err = c.word(&rows[n])
		}
	}
	c.given = c.given[n:]
	return n, err
}

// word adds the next cell that is given.
func (c *cursor) word(to *[]Cell) error {
	if len(c.numbers) == 0 || uint(c.numbers[0]) >= uint(len(c.words)) {
		return errors.New("a value is missing")
	}
	if cell := &c.words[c.numbers[0]]; cell.Text != "" {
		*to = append(*to, *cell)
	}
	c.numbers = c.numbers[1:]
	return nil
}

func (c *cursor) close() {
	if c.pages != nil {
		_ = guarded(func() error { parquet.Release(c.page); return c.pages.Close() }) // only read from
	}
}
