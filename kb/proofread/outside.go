package proofread

import (
	"fmt"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/diag"
)

// outside lists the parts of conditions that are not analysed, so that nobody takes silence for soundness.
func outside(p *Pass) {
	for _, r := range p.Ruleset.Order {
		parts := append(p.outsideOf(r, "if", r.If), p.outsideOf(r, "unless", r.Unless)...)
		if len(parts) == 0 {
			continue
		}
		what := "a part of the condition"
		if len(parts) > 1 {
			what = "parts of the condition"
		}
		p.about(r, "if", diag.Diagnostic{Code: "not-analysed", Severity: diag.Note, Span: parts[0].Span, Related: parts[1:],
			Summary: fmt.Sprintf("%s of %q can't be analysed: %s", what, r.ID, parts[0].Says),
			Detail:  "It is taken as something that may hold, fail or be undecided, whatever the rest is. Examples are its only check."})
	}
}

func (p *Pass) outsideOf(r *kb.Rule, key string, c *condition.Condition) []diag.Related {
	if c == nil {
		return nil
	}
	var out []diag.Related
	told := map[string]bool{}
	for _, n := range c.Leaves() {
		if why, is := p.space.Outside(n.Leaf); is && !told[n.Leaf.Key()] {
			told[n.Leaf.Key()] = true
			out = append(out, diag.Related{Span: r.Part(key, n.Start, n.End), Says: why})
		}
	}
	return out
}
