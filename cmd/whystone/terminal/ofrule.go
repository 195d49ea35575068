package terminal

import (
	"cmp"
	"fmt"
	"strings"

	"whystone/engine/answers"
	"whystone/engine/phrase"
	"whystone/kb/english"
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
	p.parts(r, "Condition", false)
	p.parts(r, "Exception", true)
	if r.Place.Line > 0 {
		p.Field("Stands in", Dim, fmt.Sprintf("%s:%d", r.Place.File, r.Place.Line))
	}
}

// ofRuleWords are what came of a rule, after its name, where it is not in force for another's sake.
var ofRuleWords = map[answers.Outcome]string{
	answers.RuleRetired:  "is retired",
	answers.RuleFired:    "applies to this stone",
	answers.RuleExcepted: "does not apply: its condition is met, and so is its exception",
	answers.RuleFailed:   "does not apply: its condition is not met",
}

// ofRuleSays is what came of a rule in a sentence.
func ofRuleSays(r *answers.OfRule) string {
	says := cmp.Or(ofRuleWords[r.Outcome], "is undecided: it waits for a reading")
	switch r.Outcome {
	case answers.RuleRemoved:
		says = "is not in force: the layer " + r.Layer + " retires it"
		if r.By != "" {
			says = "is not in force: " + r.By + ", of the layer " + r.Layer + ", stands in its place"
		}
	case answers.RuleReplaced:
		says = "is not in force on this day: " + r.By + ", of the layer " + r.Layer + ", stands in its place"
	case answers.RuleOutOfDays:
		says = "is not in force on this day: " + daysOf(r)
	case answers.RuleFaulted:
		says = "could not be worked out: " + r.Fault
	}
	return "The rule " + r.Rule + " " + says + "."
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
func (p *Printer) parts(r *answers.OfRule, label string, exception bool) {
	p.Field(label, Plain, english.Only(r.Parts, func(x answers.RulePart) (string, bool) {
		return partSays(x), x.Exception == exception
	})...)
}

// truthWords are how a person is told the truth of a part.
var truthWords = map[string]string{"holds": "holds", "fails": "does not hold", "undecided": "open"}

func partSays(x answers.RulePart) string {
	reads := english.Each(x.Reads, func(v answers.PartRead) string {
		return phrase.InWords(v.Name) + ": " + cmp.Or(v.Value, "not read")
	})
	says := oneLine(x.Text) + ": " + truthWords[x.Truth]
	if len(reads) > 0 {
		says += " (" + strings.Join(reads, "; ") + ")"
	}
	if x.Decides {
		says += ", and this decides it"
	}
	return says
}
