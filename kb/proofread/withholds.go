package proofread

import (
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
		m, says, detail := p.Ruleset.Node(id), "", ""
		switch {
		case !canBeNamed(m):
			says = "%q keeps back %q, and no verdict names that or anything below it"
			detail = "Name the group that a verdict would name, or take it out."
		case p.allExcluded(r, fires, m.Leaves):
			says = "%q keeps back %q, which the sheets exclude wherever it fires"
			detail = "Is another name meant, or another threshold? If the sheet is wrong, correct it there."
		default:
			continue
		}
		f := p.warn(r, "withholds", withholdsNothing, says, r.ID, id)
		f.Detail, f.Related, f.Sheets = detail, []diag.Related{sheetAt(m)}, append(f.Sheets, Sheet{"material", id})
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
		p.warn(r, kb.UntilKey, neverHolds, "what %q keeps back is never given free: its \"until\" can't hold where it "+
			"fires", r.ID).Detail = "Correct it. If the names are to be kept back for as long as the rule fires, " +
			"leave it out."
	case !p.can(sat.And(fires, sat.Not(holds))):
		f := p.warn(r, kb.UntilKey, alwaysHolds, "%q keeps nothing back: its \"until\" holds wherever it fires", r.ID)
		f.Detail = "Name what nobody has looked for yet when the rule fires, or let the rule keep nothing back."
		if len(until.Reads) == 0 {
			f.Detail = "It reads nothing. Name the reading that would settle the matter."
		}
	}
}

// canBeNamed tells whether a verdict can name a node or one below it.
func canBeNamed(m *kb.Material) bool {
	return m.Nameable || slices.ContainsFunc(m.Kids, canBeNamed)
}
