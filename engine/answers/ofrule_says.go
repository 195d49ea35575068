package answers

import (
	"cmp"
	"strings"

	"whystone/engine/phrase"
	"whystone/kb/english"
)

// ofRuleWords are what came of a rule, after its name, where it is not in force for another's sake.
var ofRuleWords = map[Outcome]string{
	RuleRetired:  "is retired",
	RuleFired:    "applies to this stone",
	RuleExcepted: "does not apply: its condition is met, and so is its exception",
	RuleFailed:   "does not apply: its condition is not met",
}

// Says is what came of a rule in a sentence.
func (r *OfRule) Says() string {
	says := cmp.Or(ofRuleWords[r.Outcome], "is undecided: it waits for a reading")
	switch r.Outcome {
	case RuleRemoved:
		says = "is not in force: the layer " + r.Layer + " retires it"
		if r.By != "" {
			says = "is not in force: " + r.By + ", of the layer " + r.Layer + ", stands in its place"
		}
	case RuleReplaced:
		says = "is not in force on this day: " + r.By + ", of the layer " + r.Layer + ", stands in its place"
	case RuleOutOfDays:
		says = "is not in force on this day: " + r.days()
	case RuleFaulted:
		says = "could not be worked out: " + r.Fault
	}
	return "The rule " + r.Rule + " " + says + "."
}

func (r *OfRule) days() string {
	var parts []string
	if r.Since != "" {
		parts = append(parts, "it holds from "+r.Since)
	}
	if r.Until != "" {
		parts = append(parts, "it ends before "+r.Until)
	}
	return strings.Join(parts, " and ")
}

// truthWords are how a person is told the truth of a part.
var truthWords = map[string]string{"holds": "holds", "fails": "does not hold", "undecided": "open"}

// Says is a part with what the case has for it.
func (x *RulePart) Says() string {
	reads := english.Each(x.Reads, func(v PartRead) string {
		return phrase.InWords(v.Name) + ": " + cmp.Or(v.Value, "not read")
	})
	says := strings.Join(strings.Fields(x.Text), " ") + ": " + truthWords[x.Truth]
	if len(reads) > 0 {
		says += " (" + strings.Join(reads, "; ") + ")"
	}
	if x.Decides {
		says += ", and this decides it"
	}
	return says
}
