package archive

import "strings"

// shelf is where rows of a table lie side by side: their texts are parts of one text, their cells of one list, so that a
// row costs hardly any memory of its own. What lies on it stays as it is, and lasts as long as any part of it is looked
// at.
type shelf struct {
	text  strings.Builder // what it has given out stays while it grows within its room
	cells []Cell
	raws  []Raw
	most  int // cells of a row, so far
}

// How much is set up at once.
const (
	shelfBytes = 64 << 10
	shelfCells = 2048
	shelfRaws  = 64
)

// keep is a copy of a text.
func (s *shelf) keep(b []byte) string {
	if s.text.Cap()-s.text.Len() < len(b) {
		s.text.Reset()
		s.text.Grow(max(shelfBytes, len(b)))
	}
	from := s.text.Len()
	_, _ = s.text.Write(b) // it never fails
	return s.text.String()[from:]
}

// open is room for the cells of a row, to be appended to.
func (s *shelf) open() []Cell {
	if cap(s.cells)-len(s.cells) < s.most {
		s.cells = make([]Cell, 0, max(shelfCells, s.most))
	}
	return s.cells[len(s.cells):]
}

// close keeps cells that were appended to what open gave.
func (s *shelf) close(cells []Cell) []Cell {
	s.most = max(s.most, len(cells))
	if cap(cells) == cap(s.cells)-len(s.cells) { // they did not outgrow it
		s.cells = s.cells[:len(s.cells)+len(cells)]
	}
	return cells[:len(cells):len(cells)]
}

// raw is a record of its own.
func (s *shelf) raw(of Raw) *Raw {
	if len(s.raws) == 0 {
		s.raws = make([]Raw, shelfRaws)
	}
	r := &s.raws[0]
	s.raws = s.raws[1:]
	*r = of
	return r
}
