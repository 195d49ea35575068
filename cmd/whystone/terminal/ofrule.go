package terminal

import (
	"fmt"
	"strings"

	"whystone/engine/answers"
	"whystone/engine/phrase"
)

// OfRule writes what came of one rule on a case.
func (p *Printer) OfRule(t Told, r *answers.OfRule) {
	p.heading(t)
	p.Text(Accent, 2, ofRuleSays(r))
	if r.Draft {
		p.Text(Plain, 2, "It is a draft, and changes nothing yet.")
	}
	p.fieldIf("It says", r.Text)
	for _, w := range r.Waits {
		p.Field("Waits for", Plain, w.Why)
	}
	for _, exception := range []bool{false, true} {
		p.parts(r, exception)
	}
	if r.Place.Line > 0 {
		p.Field("Stands in", Dim, fmt.Sprintf("%s:%d", r.Place.File, r.Place.Line))
	}
}

// ofRuleSays is what came of a rule in a sentence.
func ofRuleSays(r *answers.OfRule) string {
	switch r.Outcome {
	case answers.RuleRemoved:
		if r.By == "" {
			return fmt.Sprintf("The rule %s is not in force: the layer %s retires it.", r.Rule, r.Layer)
		}
		return fmt.Sprintf("The rule %s is not in force: %s, of the layer %s, stands in its place.", r.Rule, r.By,
			r.Layer)
	case answers.RuleRetired:
		return fmt.Sprintf("The rule %s is retired.", r.Rule)
	case answers.RuleReplaced:
		return fmt.Sprintf("The rule %s is not in force on this day: %s, of the layer %s, stands in its place.", r.Rule,
			r.By, r.Layer)
	case answers.RuleOutOfDays:
		return fmt.Sprintf("The rule %s is not in force on this day: %s.", r.Rule, daysOf(r))
	case answers.RuleFaulted:
		return fmt.Sprintf("The rule %s could not be worked out: %s.", r.Rule, r.Fault)
	case answers.RuleFired:
		return fmt.Sprintf("The rule %s applies to this stone.", r.Rule)
	case answers.RuleExcepted:
		return fmt.Sprintf("The rule %s does not apply: its condition is met, and so is its exception.", r.Rule)
	case answers.RuleFailed:
		return fmt.Sprintf("The rule %s does not apply: its condition is not met.", r.Rule)
	default:
		return fmt.Sprintf("The rule %s is undecided: it waits for a reading.", r.Rule)
	}
}

func daysOf(r *answers.OfRule) string {
	var parts []string
	if r.Since != "" {
		parts = append(parts, "it holds from "+r.Since)
	}
	if r.Until != "" {
		parts = append(parts, "it ends before "+r.Until)
	}
	return strings.Join(parts, " and ")
}

// parts writes the parts of a rule's condition, or of its exception, with what the case has for each.
func (p *Printer) parts(r *answers.OfRule, exception bool) {
	label := "Condition"
	if exception {
		label = "Exception"
	}
	var lines []string
	for _, x := range r.Parts {
		if x.Exception == exception {
			lines = append(lines, partSays(x))
		}
	}
	p.Field(label, Plain, lines...)
}

// truthWords are how a person is told the truth of a part.
var truthWords = map[string]string{"holds": "holds", "fails": "does not hold", "undecided": "open"}

func partSays(x answers.RulePart) string {
	var reads []string
	for _, v := range x.Reads {
		value := v.Value
		if value == "" {
			value = "not read"
		}
		reads = append(reads, phrase.InWords(v.Name)+": "+value)
	}
	says := strings.Join(strings.Fields(x.Text), " ") + ": " + truthWords[x.Truth]
	if len(reads) > 0 {
		says += " (" + strings.Join(reads, "; ") + ")"
	}
	if x.Decides {
		says += ", and this decides it"
	}
	return says
}
