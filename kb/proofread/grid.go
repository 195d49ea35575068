package proofread

import (
	"slices"

	"whystone/kb"
	"whystone/kb/english"
	"whystone/kb/sat"
)

// tableGrid is the rows of a table as boxes over its columns.
type tableGrid struct {
	axes []*axis
	rows []region
}

// region is a box: where it lies on each axis, and nil where it takes in all of one.
type region []spans

func newGrid(space *sat.Space, t *kb.Table, rows []*kb.TableRow) *tableGrid {
	g := &tableGrid{}
	for i := range t.Columns {
		g.axes = append(g.axes, newAxis(space, t, rows, i))
	}
	for _, r := range rows {
		at := make(region, len(g.axes))
		for i, c := range r.Cells {
			if x := g.axes[i]; c.If != nil && !x.opaque {
				if s := x.takes(c.If.Root); !x.all().within(s) {
					at[i] = append(spans{}, s...)
				}
			}
		}
		g.rows = append(g.rows, at)
	}
	return g
}

// apart tells whether two boxes have nothing in common.
func (a region) apart(b region) bool {
	for i := range a {
		if a[i] != nil && b[i] != nil && !a[i].meets(b[i]) {
			return true
		}
	}
	return false
}

// within tells whether all of a lies in b.
func (a region) within(b region) bool {
	for i := range a {
		if b[i] != nil && (a[i] == nil || !a[i].within(b[i])) {
			return false
		}
	}
	return true
}

// shared is what two boxes have in common.
func (a region) shared(b region) region {
	out := make(region, len(a))
	for i := range a {
		switch {
		case a[i] == nil:
			out[i] = b[i]
		case b[i] == nil:
			out[i] = a[i]
		default:
			out[i] = a[i].and(b[i])
		}
	}
	return out
}

// lies is true of sharp readings of all columns that lie in a region.
func (g *tableGrid) lies(r region) *sat.Formula {
	out := sat.True
	for i, x := range g.axes {
		at := r[i]
		if at == nil {
			at = x.all()
		}
		out = sat.And(out, x.lies(at))
	}
	return out
}

// says tells in words where a region lies: "ri below 1.6 with colour red and stone.wet false".
func (g *tableGrid) says(r region) string {
	var parts []string
	for i, x := range g.axes {
		if r[i] != nil {
			parts = append(parts, x.says(r[i]))
		}
	}
	switch len(parts) {
	case 0:
		return "what there is"
	case 1:
		return parts[0]
	}
	return parts[0] + " with " + english.List(parts[1:], "and")
}

// widened is a region made as wide as no row meets it, so that it takes fewer words.
func (g *tableGrid) widened(r region) region {
	r = slices.Clone(r)
	for i, x := range g.axes {
		if r[i] == nil {
			continue
		}
		rest := slices.Clone(r)
		rest[i] = nil
		var met []span
		for _, row := range g.rows {
			if row[i] != nil && !row.apart(rest) {
				met = append(met, row[i]...)
			}
		}
		free := union(met).not(x.size).and(x.all())
		if x.ordered() {
			free = slices.DeleteFunc(free, func(s span) bool { return s.to <= r[i][0].from || s.from > r[i][0].from })
		}
		r[i] = free
		if x.all().within(free) {
			r[i] = nil
		}
	}
	return r
}
