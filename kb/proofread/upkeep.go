package proofread

import (
	"fmt"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/logic"
)

var (
	noExamples = diag.New("no-examples", "A rule has no examples, or none of one kind.",
		`Examples are small cases with what the condition is on them. They are run whenever the rules are proofread, and show a
reader what the rule means. Give one that holds and one that fails.`)
	noSource = diag.New("no-source", "A rule names no source.",
		`Every rule says where it comes from: a publication by author, year and title, or "common practice", or "from memory".`)
	periodOver = diag.New("period-over", "A rule's time in force is over.",
		`The day under "until" has passed: the rule no longer judges new cases, and still judges older ones by their dates.`)
)

func init() {
	Register(Check{Order: 90, Look: upkeep, Finds: []diag.Code{noExamples, noSource, periodOver}})
}

// upkeep finds what keeps a rule from being trusted: examples that don't come out, none at all or none that shows it
// firing, no source, a time that is over.
func upkeep(p *Pass) {
	for _, r := range p.Ruleset.Order {
		for _, d := range p.run.CheckExamples(r, p.On) {
			p.about(r, "rule", d)
		}
		if r.Table == nil { // a row is its own example: it says what it is met by
			p.examples(r)
		}
		if r.Source == "" {
			p.about(r, "rule", lacksSource(r.ID, r.At("rule")))
		}
		if !r.Until.IsZero() && !p.On.Before(r.Until) {
			p.periodOver(r)
		}
	}
}

// lacksSource is said of a rule or a definition that does not say where it comes from.
func lacksSource(id string, at diag.Span) diag.Diagnostic {
	return diag.Diagnostic{Code: noSource, Severity: diag.Note, Span: at,
		Summary: fmt.Sprintf("%q names no source", id),
		Detail:  "Say where it comes from: author, year and title, or \"common practice\", or \"from memory\"."}
}

// periodOver tells of a rule whose time is over. A draft can never become active then; a rule that has a successor has
// done its part.
func (p *Pass) periodOver(r *kb.Rule) {
	f := p.warn(r, "until", periodOver, "%q is no longer in force", r.ID)
	f.Detail = "It still judges older cases by their dates, and no new ones. If that is meant, accept this; if it is " +
		"not wanted for those either, write status: retired."
	switch {
	case r.Status == kb.Draft:
		f.Summary = fmt.Sprintf("the draft %q would be in force on no day to come", r.ID)
		f.Detail = "Give it a later until, or take it out."
	case r.ReplacedBy != nil || r.Place.Replaces != "":
		f.Severity = diag.Note
	}
}

func (p *Pass) examples(r *kb.Rule) {
	is := map[logic.Value]bool{}
	for _, ex := range r.Examples {
		is[ex.Is] = true
	}
	says, severity := "", diag.Warning
	detail := "Give a case just beyond its bounds: a condition that is too wide is found out by that."
	switch canFail := r.If != nil && len(r.If.Reads) > 0 || r.Unless != nil; {
	case len(r.Examples) == 0:
		says, severity = "%q has no examples", diag.Note
		detail = "Give one in which it holds and one in which it fails: examples are run whenever the rules change."
	case !is[logic.Holds]:
		says = "no example shows %q holding"
		detail = "Give a case in which it should fire: a rule that can't be made to is found out by that."
	case is[logic.Fails] || !canFail:
		return
	case !is[logic.Undecided] && len(r.Examples) > 1:
		says = "all examples show %q holding"
	default:
		says, severity = "no example shows %q failing", diag.Note
	}
	f := p.warn(r, "examples", noExamples, says, r.ID)
	f.Severity, f.Detail = severity, detail
}
