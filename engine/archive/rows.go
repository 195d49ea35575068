package archive

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// MaxRow bounds a row's text: a text in quotes has its own quotes twice, so that it may be twice as long as a line.
const MaxRow = 2 * MaxLine

// rows cuts a table (RFC 4180) into rows. encoding/csv is not enough for an archive: it makes LF of CRLF inside a text,
// takes a lone CR for text, has no bound, and lets a quote that nobody closes swallow all rows behind it. Here a row
// that is broken takes one line with it, and nothing of a text is changed.
//
// A row ends with the first line at whose end the quotes so far are even: inside a cell in quotes they come in pairs,
// and the two around it are a pair too. Where they stay odd, or what was gathered so is no row, its first line is
// broken, and the next is begun with anew. A line is looked at no more than three times in this, as every odd line ends
// some row.
type rows struct {
	in    *bufio.Reader // holds MaxRow bytes
	comma string
	line  int // the next one's number, from 1
	shelf shelf
	buf   []byte // for a cell with quotes of its own
}

// row is a row of a table, from its first line to its last.
type row struct {
	first, last int
	cells       []Cell // those that are not empty
	width       int    // how many there are, the empty ones among them
	err         error  // why it can't be read
}

func newRows(in *bufio.Reader, comma rune) *rows {
	if comma == 0 {
		comma = ','
	}
	return &rows{in: in, comma: string(comma), line: 1}
}

// next cuts the next row that is not empty. The error is that of the reading, io.EOF after the last row.
func (t *rows) next() (row, error) {
	for {
		text, err := t.upTo(0)
		if err != nil {
			return row{}, err
		}
		if text == nil {
			return t.tooLong()
		}
		if len(cutEnd(text)) > 0 {
			return t.row(text)
		}
		if err := t.pass(text, 1); err != nil {
			return row{}, err
		}
	}
}

// row cuts the row whose first line this is.
func (t *rows) row(text []byte) (row, error) {
	first, lines := len(text), 1
	for odd := oddQuotes(text); odd; lines++ {
		more, err := t.upTo(len(text))
		if err != nil && !errors.Is(err, io.EOF) {
			return row{}, err
		}
		if more == nil { // it is never closed, or too late
			text, err = t.in.Peek(len(text)) // what was looked at may have moved
			if err != nil {
				return row{}, err
			}
			break
		}
		odd = odd != oddQuotes(more[len(text):])
		text = more
	}
	r := row{first: t.line, last: t.line + lines - 1}
	var wrong string
	if r.cells, r.width, _, wrong = t.split(text); wrong != "" {
		text, lines, r.last = text[:first], 1, t.line
		_, _, at, wrong := t.split(text)
		r.err = fmt.Errorf("column %d: %s", utf8.RuneCount(text[:at])+1, wrong)
	}
	return r, t.pass(text, lines)
}

// tooLong passes over a line that is longer than a row may be.
func (t *rows) tooLong() (row, error) {
	r := row{first: t.line, last: t.line, err: errTooLongRow}
	t.line++
	for {
		if _, err := t.in.ReadSlice('\n'); !errors.Is(err, bufio.ErrBufferFull) {
			if errors.Is(err, io.EOF) {
				err = nil
			}
			return r, err
		}
	}
}

var errTooLongRow = errors.New("the row is longer than the 2 MiB that are read")

func (t *rows) pass(text []byte, lines int) error {
	t.line += lines
	_, err := t.in.Discard(len(text))
	return err
}

// upTo is the text from here to the end of the line in which byte n stands. Where nothing is left from n on it is an
// error, io.EOF at the end; where the text would be too long it is nil.
func (t *rows) upTo(n int) ([]byte, error) {
	for from := n; ; {
		have, _ := t.in.Peek(t.in.Buffered())
		if i := bytes.IndexByte(have[min(from, len(have)):], '\n'); i >= 0 {
			return have[:from+i+1], nil
		}
		from = max(n, len(have))
		more, err := t.in.Peek(len(have) + 1)
		switch {
		case len(more) > len(have):
		case errors.Is(err, bufio.ErrBufferFull):
			return nil, nil
		case errors.Is(err, io.EOF) && len(more) > n:
			return more, nil
		default:
			return nil, err
		}
	}
}

func oddQuotes(text []byte) bool { return bytes.Count(text, []byte{'"'})&1 == 1 }

// cutEnd cuts a line end off.
func cutEnd(text []byte) []byte {
	return bytes.TrimSuffix(bytes.TrimSuffix(text, []byte{'\n'}), []byte{'\r'})
}

const (
	notClosed = "a quote opens a cell here, and nothing closes it"
	stray     = "a quote stands here that neither opens nor closes a cell; a cell that has quotes in it stands in " +
		"quotes, and has its own twice"
	loneCR = "a carriage return stands alone here; lines end with LF or CRLF"
)

// split cuts a row into its cells, or says what is wrong with it, and at which byte.
func (t *rows) split(text []byte) (cells []Cell, width, at int, wrong string) {
	all := t.shelf.keep(cutEnd(text)) // cells are parts of it
	returns := strings.IndexByte(all, '\r') >= 0
	quote := next(all, 0, '"')
	comma, short := t.comma[0], len(t.comma) == 1
	cells = t.shelf.open()
	for i := 0; ; i += len(t.comma) {
		for short && i < len(all) && all[i] == comma { // most cells of an archive are empty
			i++
			width++
		}
		cell, from := "", i
		if i == quote && i < len(all) {
			if cell, i = t.quoted(all, i); i < 0 {
				return nil, 0, from, notClosed
			}
			quote = next(all, i, '"')
		} else {
			cell = t.upToComma(all[i:])
			i += len(cell)
			if quote < i || returns {
				if k := strings.IndexAny(cell, "\"\r"); k >= 0 {
					return nil, 0, from + k, misplaced(cell[k])
				}
			}
		}
		if cell != "" {
			cells = append(cells, Cell{Column: int32(width), Text: cell})
		}
		width++
		switch {
		case i == len(all):
			return t.shelf.close(cells), width, 0, ""
		case short && all[i] != comma, !short && !strings.HasPrefix(all[i:], t.comma):
			return nil, 0, i, misplaced(all[i])
		}
	}
}

// next is where a byte stands next, from a place on, or the end of the text.
func next(text string, from int, c byte) int {
	if n := strings.IndexByte(text[from:], c); n >= 0 {
		return from + n
	}
	return len(text)
}

// upToComma is a text up to the next comma, or all of it.
func (t *rows) upToComma(text string) string {
	if len(t.comma) == 1 {
		return text[:next(text, 0, t.comma[0])]
	}
	if end := strings.Index(text, t.comma); end >= 0 {
		return text[:end]
	}
	return text
}

func misplaced(c byte) string {
	if c == '\r' {
		return loneCR
	}
	return stray
}

// quoted reads a cell in quotes that begins at byte i, and tells where it ends, behind its quote; below 0 when it
// doesn't.
func (t *rows) quoted(text string, i int) (cell string, end int) {
	t.buf = t.buf[:0] // of a cell with quotes of its own
	for from := i + 1; ; from++ {
		k := strings.IndexByte(text[from:], '"')
		if k < 0 {
			return "", -1
		}
		end = from + k + 1
		if end == len(text) || text[end] != '"' {
			if len(t.buf) == 0 {
				return text[from : end-1], end
			}
			return t.shelf.keep(append(t.buf, text[from:end-1]...)), end
		}
		t.buf = append(t.buf, text[from:end]...)
		from = end
	}
}
