package archive

import (
	"strings"

	"whystone/kb/casefile"
	"whystone/kb/diag"
)

// Skimmer decodes records fast, by what it read before; those that are unusual it leaves to a [Decoder]. One goroutine
// uses it at a time.
type Skimmer struct {
	Decoder
	skim   *casefile.Skimmer
	parts  casefile.Parts
	header *Header // of the table whose columns are in fields
	fields []field
}

// field is what a Skimmer knows of a column.
type field struct {
	of    *casefile.Remembered // of readings
	known []*casefile.Said     // what its cells were read as, by their number
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
	case s.row(r):
		c = s.skim.ReadParts(&s.parts, room)
	}
	if c != nil {
		return c, nil, false
	}
	c, found = s.Decoder.Decode(r)
	return c, found, true
}

// mostSkimmed is how large a row may be that is taken apart, in bytes: a larger one may hold more values than are read.
const mostSkimmed = 10_000

// row takes a row apart as what node makes a tree of. It is false for a row in which anything is unusual: a column that
// a mapping turns into something else, a number that JSON would not write so.
func (s *Skimmer) row(r *Raw) bool {
	if r.Header != s.header {
		s.know(r.Header)
	}
	s.parts.Empty()
	size := 0
	for i := range r.Cells {
		cell := &r.Cells[i]
		c, f := &r.Header.columns[cell.Column], &s.fields[cell.Column]
		if c.extra {
			continue
		}
		if size += len(cell.Text); size > mostSkimmed || c.rule != nil {
			return false
		}
		m := casefile.Member{Key: c.path[len(c.path)-1], Raw: cell.Text, Of: f.of}
		if cell.Number > 0 && f.of != nil {
			for len(f.known) <= int(cell.Number) {
				f.known = append(f.known, nil)
			}
			m.Was = &f.known[cell.Number]
		}
		if m.Was == nil || *m.Was == nil {
			if !c.plainly(&m) {
				return false
			}
			if m.Raw == "null" && !m.Plain {
				continue
			}
		}
		if !s.parts.Put(c.place, m) {
			return false
		}
	}
	return true
}

// know gets to know the columns of a table.
func (s *Skimmer) know(h *Header) {
	s.header, s.fields = h, make([]field, len(h.columns))
	for i := range h.columns {
		if c := &h.columns[i]; !c.extra && c.place == casefile.OfReadings {
			s.fields[i].of = s.skim.Of(c.path[1])
		}
	}
}

// plainly finds out whether a cell is JSON or a text, as value does; false where that takes more than a look.
func (c *column) plainly(m *casefile.Member) bool {
	cell := m.Raw
	switch m.Plain = c.textual; {
	case c.textual:
	case cell != strings.TrimSpace(cell):
		return false
	case strings.IndexByte("+-.0123456789", cell[0]) >= 0:
		return isNumber(cell) // else it may be a number, and is at least unusual
	default:
		m.Plain = cell != "true" && cell != "false" && cell != "null" && !c.isJSON(cell)
	}
	if m.Plain {
		_, wrong := unreadable(cell)
		return wrong == ""
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
