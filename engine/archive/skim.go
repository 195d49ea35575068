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
	skim  *casefile.Skimmer
	parts casefile.Parts
}

// NewSkimmer makes one that remembers at most so many readings.
func NewSkimmer(rd *casefile.Reader, most int) *Skimmer {
	return &Skimmer{Decoder: Decoder{rd}, skim: casefile.NewSkimmer(rd, most)}
}

// Decode is that of the Decoder; it tells besides whether the record was unusual. The case and the room's memory are
// one: they last until the room is used for another record.
func (s *Skimmer) Decode(r *Raw, room *casefile.Room) (c *casefile.Case, found diag.List, unusual bool) {
	switch {
	case r.Err != nil:
	case r.Header == nil:
		c = s.skim.Read(r.Text, room)
	case r.Header.parts(r.Cells, &s.parts):
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

// parts takes a row apart as what node makes a tree of. It is false for a row in which anything is unusual: a column
// that a mapping turns into something else, a number that JSON would not write so.
func (h *Header) parts(cells []string, to *casefile.Parts) bool {
	to.Empty()
	size := 0
	for i := range h.columns {
		c, cell := &h.columns[i], cells[i]
		if cell == "" || c.extra {
			continue
		}
		textual := c.textual()
		if size += len(cell); size > mostSkimmed || c.rule != nil || !textual && cell != strings.TrimSpace(cell) {
			return false
		}
		if cell == "null" && !textual {
			continue
		}
		m := casefile.Member{Key: c.path[len(c.path)-1], Raw: cell, Plain: textual}
		if !textual && !isNumber(cell) && cell != "true" && cell != "false" && !c.isJSON(cell) {
			if strings.IndexByte("+-.0123456789", cell[0]) >= 0 {
				return false // it may be a number, and is at least unusual
			}
			m.Plain = true
		}
		if m.Plain {
			if _, wrong := unreadable(cell); wrong != "" {
				return false
			}
		}
		if one := len(c.path) == 1; one && !to.Put(m) || !one && !to.PutUnder(c.path[0], m) {
			return false
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
