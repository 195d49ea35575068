package proofread

import (
	"fmt"
	"slices"
	"strings"

	"whystone/kb"
	"whystone/kb/diag"
)

var notAnalysed = diag.New("not-analysed", "A part of a condition lies outside what can be analysed.",
	`Comparisons of one quantity with a number, choices, features, truths, words, seen(...) and unclear(...), facts, and
"and", "or", "not" are decided exactly. Arithmetic on several readings and patterns in texts are not: such a part is taken as
something that may hold, fail or be undecided. A search that would take too long is given up, and listed here too. Nothing wrong
is said of the rule because of it, but defects that depend on it are not found.`)

func init() { Register(Check{Order: 110, Look: outside, Finds: []diag.Code{notAnalysed}}) }

// outside lists the parts of conditions that are not analysed, so that nobody takes silence for soundness.
func outside(p *Pass) {
	for _, r := range p.Ruleset.Order {
		var parts []diag.Related
		for _, c := range conditionsOf(r) {
			parts = append(parts, p.outsideOf(r, c)...)
		}
		if len(parts) == 0 {
			continue
		}
		p.about(r, "if", diag.Diagnostic{Code: notAnalysed, Severity: diag.Note, Span: parts[0].Span,
			Related: parts[1:], Summary: summary(r, parts),
			Detail: "It is taken as something that may hold, fail or be undecided, whatever the rest is. Examples " +
				"are its only check."})
	}
}

// summary says of how many parts it is told, and why of each kind.
func summary(r *kb.Rule, parts []diag.Related) string {
	if len(parts) == 1 {
		return fmt.Sprintf("a part of the condition of %q can't be analysed: %s", r.ID, parts[0].Says)
	}
	var why []string
	for _, part := range parts {
		if w := strings.TrimPrefix(part.Says, "it "); !slices.Contains(why, w) {
			why = append(why, w)
		}
	}
	if len(why) == 1 {
		return fmt.Sprintf("%d parts of the condition of %q can't be analysed: each %s", len(parts), r.ID, why[0])
	}
	return fmt.Sprintf("%d parts of the condition of %q can't be analysed: one %s", len(parts), r.ID,
		strings.Join(why, ", another "))
}

func (p *Pass) outsideOf(r *kb.Rule, of keyed) (out []diag.Related) {
	told := map[string]bool{}
	for _, n := range of.c.Leaves() {
		if why, is := p.space.Outside(n.Leaf); is && !told[n.Leaf.Key()] {
			told[n.Leaf.Key()] = true
			out = append(out, diag.Related{Span: r.Part(of.key, n.Start, n.End), Says: why})
		}
	}
	return out
}
