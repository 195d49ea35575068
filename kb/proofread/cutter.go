package proofread

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"slices"

	"whystone/kb/bitset"
	"whystone/kb/english"
)

// The rows are cut axis by axis: along one, wherever rows begin and end, each stretch between is met by a part of the
// rows alone, and for these the rest of the axes is looked at. Rows that come up again after the same axes have the
// same answer, so the stretches make up a graph, in which equal answers are one node: a multi-valued decision diagram.
// A region that no row meets is a path through it that runs out of rows.

// maxStretches bounds the cutting. Tables as people write them take a few stretches a row.
const maxStretches = 100_000

// cutter cuts a grid.
type cutter struct {
	*tableGrid
	order  []int // of axes: those that most rows speak of come first
	last   []int // by row: how many axes in this order it takes to have seen all that it speaks of
	known  map[string]*stretch
	made   map[string]*stretch
	room   int
	gaveUp bool
}

// stretch is a node: what no row meets, of the axes from one on.
type stretch struct {
	id   int
	axis int
	kids []kid
}

type kid struct {
	at spans
	to *stretch
}

// open finds what no row meets; nil where there is nothing of the kind. Not all was looked at if the cutter gave up.
func (g *tableGrid) open() (*stretch, *cutter) {
	c := &cutter{tableGrid: g, known: map[string]*stretch{}, made: map[string]*stretch{}, room: maxStretches}
	speaks := make([]int, len(g.axes))
	var rows bitset.Set
	for i, r := range g.rows {
		rows.Add(i)
		for a := range r {
			if r[a] != nil {
				speaks[a]++
			}
		}
	}
	for a := range g.axes {
		c.order = append(c.order, a)
	}
	slices.SortStableFunc(c.order, func(a, b int) int { return speaks[b] - speaks[a] })
	for _, r := range g.rows {
		last := 0
		for i, a := range c.order {
			if r[a] != nil {
				last = i + 1
			}
		}
		c.last = append(c.last, last)
	}
	return c.cut(0, rows), c
}

// whole is where there are no rows left.
var whole = &stretch{}

func (c *cutter) cut(from int, rows bitset.Set) *stretch {
	left := rows.Members()
	if len(left) == 0 {
		return whole
	}
	if slices.ContainsFunc(left, func(r int) bool { return c.last[r] <= from }) {
		return nil
	}
	id := binary.AppendUvarint(nil, uint64(from))
	for _, w := range rows {
		id = binary.BigEndian.AppendUint64(id, w)
	}
	key := string(id)
	if s, ok := c.known[key]; ok {
		return s
	}
	s := c.along(from, rows, left)
	c.known[key] = s
	return s
}

// turn is where a row begins or ends along an axis.
type turn struct {
	at, row int
	begins  bool
}

// along cuts one axis into stretches.
func (c *cutter) along(from int, rows bitset.Set, left []int) *stretch {
	axis := c.order[from]
	met := make(bitset.Set, len(rows)) // by rows that take in all of the axis
	var turns []turn
	for _, r := range left {
		if c.rows[r][axis] == nil {
			met.Add(r)
		}
		for _, s := range c.rows[r][axis] {
			turns = append(turns, turn{s.from, r, true}, turn{s.to, r, false})
		}
	}
	slices.SortFunc(turns, func(a, b turn) int { return cmp.Or(a.at-b.at, a.row-b.row) })
	all := c.axes[axis].all()
	var kids []kid
	for begin, i := 0, 0; begin < c.axes[axis].size; {
		for ; i < len(turns) && turns[i].at == begin; i++ {
			met.Turn(turns[i].row)
		}
		end := c.axes[axis].size
		if i < len(turns) {
			end = turns[i].at
		}
		if at := run(begin, end).and(all); len(at) > 0 {
			if c.room--; c.room < 0 {
				c.gaveUp = true
				break
			}
			if to := c.cut(from+1, slices.Clone(met)); to != nil {
				kids = append(kids, kid{at, to})
			}
		}
		begin = end
	}
	return c.node(axis, kids)
}

// node is that of an axis with what goes on from it. An axis that decides nothing has none.
func (c *cutter) node(axis int, kids []kid) *stretch {
	var joined []kid
	for _, k := range kids {
		if i := slices.IndexFunc(joined, func(j kid) bool { return j.to == k.to }); i >= 0 {
			joined[i].at = append(joined[i].at, k.at...) // rising, as the stretches are
		} else {
			joined = append(joined, kid{slices.Clone(k.at), k.to})
		}
	}
	for i := range joined {
		joined[i].at = union(joined[i].at)
	}
	if len(joined) == 0 {
		return nil
	}
	if len(joined) == 1 && c.axes[axis].all().within(joined[0].at) {
		return joined[0].to
	}
	key := fmt.Sprint(axis)
	for _, k := range joined {
		key += fmt.Sprint(k.at, k.to.id)
	}
	if s := c.made[key]; s != nil {
		return s
	}
	s := &stretch{id: len(c.made) + 1, axis: axis, kids: joined}
	c.made[key] = s
	return s
}

// each calls f with the regions of a node, which are apart, until it returns false.
func (c *cutter) each(s *stretch, at region, f func(region) bool) bool {
	if s == nil {
		return true
	}
	if s == whole {
		return f(slices.Clone(at))
	}
	for _, k := range s.kids {
		parts := []spans{k.at}
		if c.axes[s.axis].ordered() { // a reader takes what lies apart to be two gaps
			parts = english.Each(k.at, func(p span) spans { return spans{p} })
		}
		for _, p := range parts {
			at[s.axis] = p
			if !c.each(k.to, at, f) {
				return false
			}
		}
		at[s.axis] = nil
	}
	return true
}
