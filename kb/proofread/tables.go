package proofread

import (
	"slices"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/sat"
)

var (
	tableGap = diag.New("table-gap", "Some combination of readings is met by no row of a table.",
		`There are sharp readings of all columns of the table for which no row is met. The witness is such a case. Widen a row,
add one, or accept the gap and say why nothing follows there. Features count one by one, and none seen is no gap. A gap that only
drafts would fill is a note.`)
	tableOverlap = diag.New("table-overlap", "Two rows of a table can be met by one combination of readings.",
		`One case can meet two rows of the table that are both in force. The witness is such a case. If both are meant to count,
accept it; else let one row end where the other begins: "2.6 to 2.7" takes 2.6 in and leaves 2.7 out.`)
)

func init() { Register(Check{Order: 100, Look: tables, Finds: []diag.Code{tableGap, tableOverlap}}) }

// tables finds gaps and overlaps of rule tables. Retired rows are no part of them.
func tables(p *Pass) {
	p.asking()
	for _, t := range p.Ruleset.Tables {
		if p.over() {
			return
		}
		retired := func(r *kb.TableRow) bool { return r.Rule.Status == kb.Retired }
		if rows := slices.DeleteFunc(slices.Clone(t.Rows), retired); len(rows) > 0 {
			p.gaps(t, rows)
			p.overlaps(t, rows)
		}
	}
}

// met is when a row's cells are met.
func (p *Pass) met(r *kb.TableRow) *sat.Formula {
	out := sat.True
	for _, c := range r.Cells {
		if c.If != nil {
			out = sat.And(out, p.space.Holds(c.If.Root))
		}
	}
	return out
}
