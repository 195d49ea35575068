package proofread

import (
	"whystone/kb"
	"whystone/kb/box"
)

// tables finds gaps and overlaps of rule tables. Retired rows are no part of them.
func tables(p *Pass) {
	p.asking()
	for _, t := range p.Ruleset.Tables {
		if p.over() {
			return
		}
		var rows []*kb.TableRow
		for _, r := range t.Rows {
			if r.Rule.Status != kb.Retired {
				rows = append(rows, r)
			}
		}
		if len(rows) > 0 {
			p.gaps(t, rows)
			p.overlaps(t, rows)
		}
	}
}

// met is when a row's cells are met.
func (p *Pass) met(r *kb.TableRow) *box.Formula {
	out := box.True
	for _, c := range r.Cells {
		if c.If != nil {
			out = box.And(out, p.space.Holds(c.If.Root))
		}
	}
	return out
}
