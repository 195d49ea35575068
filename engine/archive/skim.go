package archive

import (
	"strings"
	"unicode/utf8"

	"whystone/kb/casefile"
	"whystone/kb/diag"
)

// Skimmer decodes records fast, by what it read before; those that are unusual it leaves to a [Decoder]. One goroutine
// uses it at a time.
type Skimmer struct {
	Decoder
	skim   *casefile.Skimmer
	header *Header // of the table whose columns are in fields
	fields []field
}

// field is what a Skimmer knows of a column.
type field struct {
	*column
	of    *casefile.Remembered // of readings
	known []casefile.Again     // what its cells were read as, by their number
}

// NewSkimmer makes one that shares a memory with others.
func NewSkimmer(rd *casefile.Reader, memory *casefile.Memory) *Skimmer {
	return &Skimmer{Decoder: Decoder{rd}, skim: casefile.NewSkimmer(rd, memory)}
}

// Decode is that of the Decoder; it tells besides whether the record was unusual. The case and the room's memory are
// one: they last until the room is used for another record.
func (s *Skimmer) Decode(r *Raw, room *casefile.Room) (c *casefile.Case, found diag.List, unusual bool) {
	switch {
	case r.Err != nil:
	case r.Header == nil:
		c = s.skim.Read(r.Text, room)
	default:
		c = s.row(r, room)
	}
	if c != nil {
		return c, nil, false
	}
	c, found = s.Decoder.Decode(r)
	return c, found, true
}

// mostSkimmed is how large a row may be that is taken apart, in bytes: a larger one may hold more values than are read.
const mostSkimmed = 10_000

// row reads a row as what node makes a tree of. It is nil for a row in which anything is unusual: a column that a
// mapping turns into something else, a number that JSON would not write so.
func (s *Skimmer) row(r *Raw, room *casefile.Room) *casefile.Case {
	if r.Header != s.header {
		s.know(r.Header)
	}
	s.skim.Begin(room)
	size := 0
	for i := range r.Cells {
		cell := &r.Cells[i]
		f := &s.fields[cell.Column]
		if f.extra {
			continue
		}
		if size += len(cell.Text); size > mostSkimmed || f.rule != nil || !s.cell(f, cell) {
			return nil
		}
	}
	return s.skim.End()
}

// cell reads a cell; false where anything about it is unusual.
func (s *Skimmer) cell(f *field, cell *Cell) bool {
	number := int(cell.Number)
	switch {
	case f.of == nil:
	case number == 0:
		if as, ok := f.of.Word(cell.Text); ok {
			return s.skim.PutAgain(f.of, as)
		}
	case number < len(f.known) && f.known[number] != (casefile.Again{}):
		return s.skim.PutAgain(f.of, f.known[number])
	}
	m := casefile.Member{Raw: cell.Text}
	switch {
	case !f.plainly(&m):
		return false
	case m.Raw == "null" && !m.Plain:
		return true
	case f.place != casefile.OfReadings:
		return s.skim.Put(f.place, m)
	}
	as, again, ok := s.skim.PutReading(f.of, m, number > 0)
	if again && number > 0 {
		f.known = append(f.known, make([]casefile.Again, max(0, number+1-len(f.known)))...)
		f.known[number] = as
	}
	return ok
}

// know gets to know the columns of a table.
func (s *Skimmer) know(h *Header) {
	s.header, s.fields = h, make([]field, len(h.columns))
	for i := range h.columns {
		c := &h.columns[i]
		if s.fields[i].column = c; !c.extra && c.place == casefile.OfReadings {
			s.fields[i].of = s.skim.Of(c.path[1])
		}
	}
}

// plainly finds out whether a cell is JSON or a text, as value does; false where that takes more than a look.
func (c *column) plainly(m *casefile.Member) bool {
	cell := m.Raw
	if m.Plain = c.textual; !m.Plain {
		switch first, last := cell[0], cell[len(cell)-1]; {
		case (first <= ' ' || last <= ' ' || first|last >= utf8.RuneSelf) && cell != strings.TrimSpace(cell):
			return false
		case strings.IndexByte("+-.0123456789", first) >= 0:
			return isNumber(cell) // else it may be a number, and is at least unusual
		}
		m.Plain = !c.isJSON(cell) && cell != "true" && cell != "false" && cell != "null"
	}
	return !m.Plain || readable(cell)
}

// readable tells whether a text holds nothing that no text may hold.
func readable(cell string) bool {
	for i := range len(cell) {
		if c := cell[i]; c == 0 || c >= utf8.RuneSelf {
			_, wrong := unreadable(cell)
			return wrong == ""
		}
	}
	return true
}

// isNumber tells a number in the plainest form that JSON has: digits, and perhaps a point and digits.
func isNumber(s string) bool {
	point := 0
	for i := range len(s) {
		switch c := s[i]; {
		case c >= '0' && c <= '9':
		case c == '.' && i > 0 && i < len(s)-1:
			point++
		default:
			return false
		}
	}
	return point < 2 && s != "" && (len(s) == 1 || s[0] != '0' || s[1] == '.')
}
