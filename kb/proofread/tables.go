package proofread

import (
	"fmt"

	"whystone/kb"
	"whystone/kb/box"
	"whystone/kb/diag"
	"whystone/kb/truth"
)

// tables finds gaps and overlaps of rule tables. A gap is told for sharp readings of all columns: on an uncertain reading
// two rows may both stay undecided, and that is as it should be.
func tables(p *Pass) {
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
			p.gap(t, rows)
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

func (p *Pass) gap(t *kb.Table, rows []*kb.TableRow) {
	open := box.True
	for _, c := range t.Columns {
		open = box.And(open, p.space.Told(c.Slot))
	}
	var rules []*kb.Rule
	for _, r := range rows {
		open = box.And(open, box.Not(p.met(r)))
		rules = append(rules, r.Rule)
	}
	if _, answer := p.space.Satisfy(open, box.Sharp); answer == box.No {
		return
	}
	w := p.sharpWitness(open, "table-gap-"+t.ID, func(run *kb.Run) bool {
		for _, r := range rules {
			if run.Fired(r) {
				return false
			}
		}
		return true
	})
	if w == nil {
		return
	}
	p.Add(Finding{Sheets: []Sheet{{"table", t.ID}}, Witness: w, Diagnostic: diag.Diagnostic{Code: "table-gap", Severity: diag.Warning, Span: t.Origin.Span,
		Summary: fmt.Sprintf("no row of the table %q is met by some readings of all its columns", t.ID),
		Detail:  "Widen a row, add one, or accept the gap and say why nothing follows there."}})
}

// sharpWitness looks among sharp readings only.
func (p *Pass) sharpWitness(f *box.Formula, id string, shows func(*kb.Run) bool) (w *Witness) {
	left := tries
	p.space.Each(f, box.Sharp, func(b *box.Box) bool {
		w = p.confirmed(b, box.Sharp, id, shows)
		left--
		return w == nil && left > 0
	})
	return w
}

func (p *Pass) overlaps(t *kb.Table, rows []*kb.TableRow) {
	for i, a := range rows {
		for _, b := range rows[i+1:] {
			both := box.And(p.met(a), p.met(b))
			if !p.can(both) {
				continue
			}
			w, _ := p.witness(both, "table-overlap-"+a.Rule.ID+"-"+b.Name, func(run *kb.Run) bool { return p.holds(run, a) && p.holds(run, b) })
			if w == nil {
				continue
			}
			p.Add(Finding{Sheets: []Sheet{{"table", t.ID}, {"rule", b.Rule.ID}, {"rule", a.Rule.ID}}, Witness: w,
				Diagnostic: diag.Diagnostic{Code: "table-overlap", Severity: diag.Warning, Span: b.Rule.Origin.Span,
					Summary: fmt.Sprintf("the rows %q and %q of the table %q can be met at once", a.Name, b.Name, t.ID),
					Detail:  "Let one end where the other begins, or accept it and say why both are meant.",
					Related: []diag.Related{{Span: a.Rule.Origin.Span, Says: "the other row"}}}})
		}
	}
}

// holds tells whether a row's cells are met in a run.
func (p *Pass) holds(run *kb.Run, r *kb.TableRow) bool {
	for _, c := range r.Cells {
		if c.If == nil {
			continue
		}
		if v, _, err := run.Truth(c.If); err != nil || v != truth.Holds {
			return false
		}
	}
	return true
}
