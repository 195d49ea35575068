package proofread

import (
	"fmt"
	"slices"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/sat"
)

// maxAsked bounds how many pairs of rows of one table are looked at closely; one that takes too many combinations
// counts as dear.
const (
	maxAsked = 3000
	dear     = maxAsked / 20
)

// overlaps finds rows of a table that can both fire: by their exceptions and times too, which may be what keeps them
// apart, and with drafts, of which one is better found out before they are active. Features count singly: rows that ask
// for unlike ones overlap no more than two rules would, and neither does a row of nothing but "any", which is written
// to apply beside the others.
func (p *Pass) overlaps(t *kb.Table, rows []*kb.TableRow) {
	o := overlapping{Pass: p, table: t, rows: rows, grid: newGrid(p.space, t, rows)}
	for j, b := range o.grid.rows {
		if p.over() {
			return
		}
		for i, a := range o.grid.rows[:j] {
			if !a.apart(b) && asks(rows[i]) && asks(rows[j]) {
				o.look(i, j)
			}
		}
	}
	o.tell()
}

// asks tells whether a row asks for anything.
func asks(r *kb.TableRow) bool {
	return slices.ContainsFunc(r.Cells, func(c kb.Cell) bool { return c.If != nil })
}

type overlapping struct {
	*Pass
	table *kb.Table
	rows  []*kb.TableRow
	grid  *tableGrid

	told                  []Finding
	asked, more, unlooked int
}

// look asks whether two rows whose cells have something in common can both fire.
func (o *overlapping) look(i, j int) {
	if o.asked >= maxAsked {
		o.unlooked++
		return
	}
	o.asked++
	a, b := o.rows[i], o.rows[j]
	shared := o.grid.rows[i].shared(o.grid.rows[j])
	both := sat.And(o.space.Fires(a.Rule), o.space.Fires(b.Rule), o.showing(shared))
	_, answer := o.space.Satisfy(both, sat.AnyReading)
	if answer == sat.Unknown {
		o.asked += dear
		o.doubtTable(o.table, tooMany)
	}
	switch {
	case answer != sat.Yes:
	case len(o.told) == maxTold:
		o.more++
	default:
		w, why := o.witness(both, "table-overlap-"+a.Rule.ID+"-"+b.Name, fired(a.Rule, b.Rule))
		if w == nil {
			o.doubtTable(o.table, why)
			return
		}
		o.told = append(o.told, o.overlap(a, b, shared, w))
	}
}

// showing is true where one feature that both rows ask for was seen.
func (o *overlapping) showing(shared region) *sat.Formula {
	out := sat.True
	for i, x := range o.grid.axes {
		if shared[i] == nil || len(x.named) == 0 {
			continue
		}
		var shown []*sat.Formula
		for _, f := range shared[i].members() {
			shown = append(shown, o.space.Holds(&condition.Node{Op: condition.Leafed,
				Leaf: &condition.Leaf{Kind: condition.Contains, Slot: x.column.Slot, Feature: x.named[f]}}))
		}
		out = sat.And(out, sat.Or(shown...))
	}
	return out
}

func (o *overlapping) overlap(a, b *kb.TableRow, shared region, w *Witness) Finding {
	d := diag.Diagnostic{Code: tableOverlap, Severity: diag.Warning, Span: b.Rule.Place.Span,
		Summary: fmt.Sprintf("the rows %q and %q of the table %q can be met at once", a.Name, b.Name, o.table.ID),
		Detail: "Both take " + o.grid.says(shared) +
			". Let one end where the other begins, or accept it and say why both are meant.",
		Related: []diag.Related{{Span: a.Rule.Place.Span, Says: "the other row"}}}
	switch da, db := a.Rule.Status == kb.Draft, b.Rule.Status == kb.Draft; {
	case da && db:
		d.Detail += " Both are drafts."
	case da:
		d.Detail += fmt.Sprintf(" %q is a draft.", a.Name)
	case db:
		d.Detail += fmt.Sprintf(" %q is a draft.", b.Name)
	}
	return Finding{Sheets: []Sheet{{"table", o.table.ID}, {"rule", b.Rule.ID}, {"rule", a.Rule.ID}}, Witness: w,
		Diagnostic: d}
}

// tell adds the findings, the last of which says how many there are besides.
func (o *overlapping) tell() {
	if n := len(o.told); n > 0 {
		last := &o.told[n-1]
		switch {
		case o.unlooked > 0:
			last.Detail += fmt.Sprintf(" Up to %d more pairs of its rows overlap, which are not told.",
				o.more+o.unlooked)
		case o.more == 1:
			last.Detail += " One more pair of its rows overlaps, which is not told."
		case o.more > 1:
			last.Detail += fmt.Sprintf(" %d more pairs of its rows overlap, which are not told.", o.more)
		}
	}
	if o.unlooked > 0 && len(o.told) < maxTold {
		o.doubtTable(o.table, tooMany)
	}
	o.found = append(o.found, o.told...)
}
