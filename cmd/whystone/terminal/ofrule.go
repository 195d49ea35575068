package terminal

import (
	"fmt"

	"whystone/engine/answers"
	"whystone/kb/english"
)

// OfRule writes what came of one rule on a case.
func (p *Printer) OfRule(t Told, r *answers.OfRule) {
	p.heading(t)
	p.Text(Accent, 2, r.Says())
	if r.Draft {
		p.Text(Plain, 2, "It is a draft, and changes nothing yet.")
	}
	p.fieldIf("It says", r.Text)
	for _, w := range r.Waits {
		p.Field("Waits for", Plain, w.Why)
	}
	p.parts(r, "Condition", false)
	p.parts(r, "Exception", true)
	if r.Place.Line > 0 {
		p.Field("Stands in", Dim, fmt.Sprintf("%s:%d", r.Place.File, r.Place.Line))
	}
}

// parts writes the parts of a rule's condition, or of its exception, with what the case has for each.
func (p *Printer) parts(r *answers.OfRule, label string, exception bool) {
	p.Field(label, Plain, english.Only(r.Parts, func(x answers.RulePart) (string, bool) {
		return x.Says(), x.Exception == exception
	})...)
}
