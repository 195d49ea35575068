package proofread

import (
	"fmt"
	"slices"
	"strings"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/eval"
	"whystone/kb/logic"
	"whystone/kb/sat"
)

// Limits of what is looked for in one table, and of what is told.
const (
	maxRegions = 200 // that no row meets, before they are put together
	maxTold    = 5   // gaps, and overlaps
)

// gaps finds combinations of readings that no row of a table is met by. It goes by the cells alone: a row whose
// exception applies, or that is in force at other times, was written for the combination all the same. It goes by sharp
// readings of all columns: on an uncertain one two neighbours may both stay undecided, and that is as it should be. A
// draft fills no gap, unless the table is all drafts; a gap that drafts would fill is a note.
func (p *Pass) gaps(t *kb.Table, rows []*kb.TableRow) {
	draft := func(r *kb.TableRow) bool { return r.Rule.Status == kb.Draft }
	active := slices.DeleteFunc(slices.Clone(rows), draft)
	drafts := slices.DeleteFunc(slices.Clone(rows), func(r *kb.TableRow) bool { return !draft(r) })
	if len(active) == 0 {
		active, drafts = drafts, nil
	}
	g := newGrid(p.space, t, active)
	regions, all := p.openRegions(t, g)
	told := slices.Clone(regions[:min(len(regions), maxTold)])
	slices.SortFunc(told, func(a, b region) int { return strings.Compare(g.says(a), g.says(b)) })
	for i, r := range told {
		f := p.gap(t, g, r, fmt.Sprintf("table-gap-%s-%d", t.ID, i+1), active, drafts)
		if f == nil {
			continue
		}
		switch more := len(regions) - len(told); {
		case i < len(told)-1:
		case !all:
			f.Detail += " The table has more gaps than are told."
		case more == 1:
			f.Detail += " The table has one more gap, which is not told."
		case more > 1:
			f.Detail += fmt.Sprintf(" The table has %d more gaps, which are not told.", more)
		}
		p.Add(*f)
	}
}

// openRegions lists regions that no row meets, as few and wide as will do, those that take in most first. All tells
// whether they are all that there are.
func (p *Pass) openRegions(t *kb.Table, g *tableGrid) (out []region, all bool) {
	top, c := g.open()
	var parts []region
	all = c.each(top, make(region, len(g.axes)), func(r region) bool {
		if len(parts) == maxRegions || p.over() {
			return false
		}
		switch _, answer := p.space.Satisfy(g.lies(r), sat.Sharp); answer {
		case sat.Yes:
			parts = append(parts, r)
		case sat.Unknown:
			p.doubtTable(t, tooMany)
		}
		return true
	}) && !c.gaveUp
	if c.gaveUp {
		p.doubtTable(t, tooMany)
	}
	wide := english.Each(parts, g.widened)
	for range wide {
		best, most := 0, 0
		for i, w := range wide {
			n := 0
			for _, part := range parts {
				if part.within(w) {
					n++
				}
			}
			if n > most {
				best, most = i, n
			}
		}
		if most == 0 {
			break
		}
		out = append(out, wide[best])
		parts = slices.DeleteFunc(parts, func(part region) bool { return part.within(wide[best]) })
	}
	return out, all
}

// gap is the finding that no row meets a region; nil if no case shows it.
func (p *Pass) gap(t *kb.Table, g *tableGrid, r region, id string, active, drafts []*kb.TableRow) *Finding {
	lies := g.lies(r)
	w, why := p.witnessOf(lies, sat.Sharp, id, func(run *eval.Run) bool {
		return !slices.ContainsFunc(active, func(r *kb.TableRow) bool { return met(run, r) })
	})
	if w == nil {
		p.doubtTable(t, why)
		return nil
	}
	f := &Finding{Sheets: []Sheet{{"table", t.ID}}, Witness: w, Diagnostic: diag.Diagnostic{Code: tableGap,
		Severity: diag.Warning, Span: t.Place.Span, Summary: fmt.Sprintf("no row of the table %q takes %s", t.ID,
			g.says(r)),
		Detail:  "Widen a row, add one, or accept the gap and say why nothing follows there.",
		Related: g.beside(r, active)}}
	left := lies
	for _, d := range drafts {
		if p.canBe(sat.And(lies, p.met(d)), sat.Sharp) {
			f.Related = append(f.Related, diag.Related{Span: d.Rule.Place.Span, Says: "this draft would"})
			left = sat.And(left, sat.Not(p.met(d)))
		}
	}
	if _, answer := p.space.Satisfy(left, sat.Sharp); answer == sat.No {
		f.Severity, f.Detail = diag.Note, "A draft changes nothing until it is active."
		f.Summary = fmt.Sprintf("no row of the table %q but drafts takes %s", t.ID, g.says(r))
	}
	return f
}

// beside lists rows that end where a region begins, or begin where it ends, up to two of them.
func (g *tableGrid) beside(r region, rows []*kb.TableRow) (out []diag.Related) {
	for i, row := range g.rows {
		if len(out) == 2 {
			break
		}
		apart, next := 0, false
		for a := range r {
			if r[a] == nil || row[a] == nil || r[a].meets(row[a]) {
				continue
			}
			apart++
			begin, end := r[a][0].from, r[a][len(r[a])-1].to
			next = g.axes[a].ordered() &&
				slices.ContainsFunc(row[a], func(s span) bool { return s.to == begin || s.from == end })
		}
		if apart == 1 && next {
			out = append(out, diag.Related{Span: rows[i].Rule.Place.Span, Says: "the row beside it"})
		}
	}
	return out
}

// met tells whether a row's cells are met in a run.
func met(run *eval.Run, r *kb.TableRow) bool {
	return !slices.ContainsFunc(r.Cells, func(c kb.Cell) bool {
		if c.If == nil {
			return false
		}
		v, _, err := run.Truth(c.If)
		return err != nil || v != logic.Holds
	})
}
