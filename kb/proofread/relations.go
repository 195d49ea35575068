package proofread

import (
	"fmt"

	"whystone/kb"
	"whystone/kb/diag"
)

var (
	relationMisses = diag.New("relation-misses", "What goes with a quantity lies outside the sheet's own range.",
		`A relation narrows the range of a property by what else was read. Somewhere within the range of the quantity that it
goes by, all that it allows lies outside the flat range that the sheet gives or inherits, so that no stone is both. Correct the points,
the range, or how far from the line a stone may lie.`)
	relationIdle = diag.New("relation-idle", "A relation narrows nothing.",
		`Wherever in its range the quantity lies that the relation goes by, what the relation allows takes in all of the flat
range. Take it out, or say more closely how the two go together.`)
)

func init() {
	Register(Check{Order: 84, Look: relations, Finds: []diag.Code{relationMisses, relationIdle}})
}

// relations finds relations that leave the flat range of a node, and such as narrow it nowhere. It is told of the node
// that says the last of it: what it inherits was sound without.
func relations(p *Pass) {
	for _, m := range p.Ruleset.Nodes {
		for _, of := range sorted(m.Relations) {
			r := m.Relations[of]
			flat, by := m.Ranges[of], m.Ranges[r.By.Property]
			if r.SaidBy != m && flat.SaidBy != m && by.SaidBy != m {
				continue
			}
			p.relation(m, r, flat, by)
		}
	}
}

func (p *Pass) relation(m *kb.Material, r *kb.Relation, flat, by *kb.Range) {
	idle := true
	for _, x := range r.Turns(by.Low, by.High) {
		lo, hi := r.Band(x, x)
		idle = idle && lo <= flat.Low && hi >= flat.High
		if !r.Misses(flat, x, x) {
			continue
		}
		f := p.warnOf(sheetOf(m), lastSaid(m, r, flat, by), relationMisses, "where %s of %s is %g, its relation "+
			"allows a %s of %.4g to %.4g, and its range is %g to %g", r.By.Name, named(m), x, r.Of, lo, hi, flat.Low,
			flat.High)
		f.Detail = "No stone can be both. Correct the points, the range, or what lies within."
		f.Related = []diag.Related{{Span: r.Span, Says: "the relation"}, {Span: flat.Span, Says: "the range"}}
		return
	}
	if idle {
		f := p.warnOf(sheetOf(m), lastSaid(m, r, flat, by), relationIdle, "the relation of %s with %s narrows nothing "+
			"for %s", r.Of, r.By.Name, named(m))
		f.Severity, f.Detail = diag.Note, fmt.Sprintf("What it allows takes in all of the range, %g to %g.", flat.Low,
			flat.High)
	}
}

// lastSaid is where a finding about a relation is told: at what the node itself says of it.
func lastSaid(m *kb.Material, r *kb.Relation, flat, by *kb.Range) diag.Span {
	switch {
	case r.SaidBy == m:
		return r.Span
	case flat.SaidBy == m:
		return flat.Span
	}
	return by.Span
}
