package proofread

import (
	"fmt"
	"slices"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/sat"
)

// withholding looks at what a rule keeps back: a condition that would never lift it, or always has, and names that
// nothing could be given anyway. Of a rule that never fires, or reads a fact that nobody establishes, that is told
// alone.
func (p *Pass) withholding(r *kb.Rule) {
	if until := r.WithheldUntil(); until != nil {
		p.until(r, until)
	}
	fires := p.space.Fires(r)
	for _, id := range r.Withholds.Names {
		m := p.Ruleset.Node(id)
		d := diag.Diagnostic{Code: withholdsNothing, Severity: diag.Warning,
			Related: []diag.Related{{Span: m.Place.Span, Says: "the sheet of " + m.Name}}}
		switch {
		case !canBeNamed(m):
			d.Summary = fmt.Sprintf("%q keeps back %q, and no verdict names that or anything below it", r.ID, id)
			d.Detail = "Name the group that a verdict would name, or take it out."
		case p.allExcluded(r, fires, m.Leaves):
			d.Summary = fmt.Sprintf("%q keeps back %q, which the sheets exclude wherever it fires", r.ID, id)
			d.Detail = "Is another name meant, or another threshold? If the sheet is wrong, correct it there."
		default:
			continue
		}
		f := p.about(r, "withholds", d)
		f.Sheets = append(f.Sheets, Sheet{"material", id})
	}
}

// until looks at the condition that lifts what is kept back, where the rule fires.
func (p *Pass) until(r *kb.Rule, until *condition.Condition) {
	if p.looks.unmade(until.Reads) {
		return // told by itself
	}
	fires, holds := p.space.Fires(r), p.space.Holds(until.Root)
	switch {
	case !p.can(sat.And(fires, holds)):
		d := diag.Diagnostic{Code: neverHolds, Severity: diag.Warning,
			Summary: fmt.Sprintf("what %q keeps back is never given free: its \"until\" can't hold where it fires",
				r.ID), Detail: "Correct it. If the names are to be kept back for as long as the rule fires, leave it " +
				"out."}
		p.about(r, kb.UntilKey, d)
	case !p.can(sat.And(fires, sat.Not(holds))):
		d := diag.Diagnostic{Code: alwaysHolds, Severity: diag.Warning,
			Summary: fmt.Sprintf("%q keeps nothing back: its \"until\" holds wherever it fires", r.ID),
			Detail:  "Name what nobody has looked for yet when the rule fires, or let the rule keep nothing back."}
		if len(until.Reads) == 0 {
			d.Detail = "It reads nothing. Name the reading that would settle the matter."
		}
		p.about(r, kb.UntilKey, d)
	}
}

// canBeNamed tells whether a verdict can name a node or one below it.
func canBeNamed(m *kb.Material) bool {
	return m.Nameable || slices.ContainsFunc(m.Kids, canBeNamed)
}
