package coverage

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/proofread"
)

var (
	neverFired = diag.New("never-fired", "A rule held in no case of the archive.",
		`The rule held in no case of the archive. It may be about something rare, or ask for readings that nobody takes.`)
	neverDecides = diag.New("never-decides", "A rule held in archived cases, and decided none of them.",
		`The rule held in archived cases, but without it each would have come out the same. It may still be right; it is not
shown to be of use.`)
)

func init() {
	proofread.Register(proofread.Check{Order: 210, Finds: []diag.Code{neverFired, neverDecides}})
}

// find adds what is to be found of a rule. An archive without cases shows nothing.
func (r *Report) find(x *Rule, rule *kb.Rule, on time.Time) {
	if r.Cases == 0 {
		return
	}
	switch {
	case x.Held == 0 && !accepted(rule, neverFired, on):
		d := r.Findings.Notef(neverFired, rule.Place.Span, "the rule %q held in none of %s", x.ID,
			english.Count(r.Cases, "archived case", "archived cases"))
		d.Detail = "It " + english.List(x.otherwise(), "and") +
			". Perhaps the archive has no such stone; perhaps nobody writes down what the rule asks for, or it asks " +
			"for too much."
	case x.Held > 0 && x.Decided == 0 && !x.Draft() && !accepted(rule, neverDecides, on):
		d := r.Findings.Notef(neverDecides, rule.Place.Span, "the rule %q held in %s and decided none of them", x.ID,
			english.Count(x.Held, "archived case", "archived cases"))
		d.Detail = "Without it each of them comes out the same: the same verdict, exclusions and answer to the " +
			"claim, and nothing else is shown or set aside."
	}
}

// accepted tells whether the rule's sheet accepts a finding on the day of the report.
func accepted(rule *kb.Rule, code diag.Code, on time.Time) bool {
	return slices.ContainsFunc(rule.Accepts, func(a kb.Acceptance) bool {
		return a.Covers(code, nil) && on.Before(a.Until)
	})
}

// otherwise says what came of a rule that never held.
func (r *Rule) otherwise() []string {
	type came struct {
		n    int64
		says string
	}
	return english.Only([]came{{r.Failed, "failed in"}, {r.Undecided, "stayed undecided in"},
		{r.Faults, "could not be evaluated in"}, {r.NotInForce, "was not in force in"}},
		func(x came) (string, bool) { return fmt.Sprintf("%s %d", x.says, x.n), x.n > 0 })
}

func oneLine(text string) string { return strings.Join(strings.Fields(text), " ") }

// reason is why a record can't be read, on one line; its place is told beside it.
func reason(found diag.List) string {
	for _, d := range found {
		if d.Severity != diag.Error {
			continue
		}
		return oneLine(d.Summary) + diag.Meant(d.Nearest)
	}
	return "it is no case"
}
