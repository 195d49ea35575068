package terminal

import (
	"fmt"
	"slices"
	"strings"

	"whystone/engine/answers/wording"
	"whystone/engine/next"
	"whystone/engine/phrase"
	"whystone/kb/english"
)

// shownTests is how many suggestions the short list has.
const shownTests = 3

// Next writes what to test next: the advice first, then the best tests with what they would lead to.
func (p *Printer) Next(t Told, a *next.Advice, all bool) {
	p.heading(t)
	p.Text(Accent, 2, a.Says)
	p.Field("As it stands", Plain, a.Now.Says)
	p.Field("Because", Plain, a.Because...)
	for _, r := range a.Repeat {
		p.Field("Repeat", Bold, r.Says)
	}
	shown := a.Tests
	if !all {
		shown = shown[:min(shownTests, len(shown))]
	}
	for i := range shown {
		p.suggestion(i+1, &shown[i], a, all)
	}
	if more := len(a.Tests) - len(shown); more > 0 {
		p.Field("Besides", Dim, fmt.Sprintf("%d more; --all lists them", more))
	}
	forbidden := a.Forbidden
	if !all { // what holds for every stone, as that harm does, is not told with each
		forbidden = slices.DeleteFunc(slices.Clone(forbidden), func(n next.NotDone) bool { return t.always(&n.Rule) })
	}
	p.notDone("Forbidden", forbidden, true)
	if all {
		p.notDone("Harmful", a.Harmful, all)
	}
	p.notDone("Not possible", a.Infeasible, all)
}

// suggestion writes one test, and what its outcomes would lead to.
func (p *Printer) suggestion(n int, s *next.Suggestion, a *next.Advice, all bool) {
	p.Text(Bold, 2, fmt.Sprintf("%d. %s, %s min", n, s.Name, number(s.Minutes)))
	if !slices.Contains(a.Values.Tests, s.Test) { // what the advice says to do tells it
		p.Text(Plain, 5, s.Says)
	}
	for _, o := range together(likely(s.Outcomes, all), a.Now) {
		p.Field("   if", Plain, o)
	}
	if all {
		p.Field("   figures", Dim, fmt.Sprintf("entropy falls by %.3f nats; loss by %.2f %s, %.2f after the time it "+
			"takes", s.EntropyDrop, s.LossReduction, a.Currency, s.Net))
	}
	for _, c := range s.CalledFor {
		p.Field("   asked for", Plain, c.Says)
	}
	p.Field("   ask first", Plain, s.Asks...)
	p.Field("   caution", Plain, s.Cautions...)
	p.Field("   remember", Plain, cautions(likely(s.Outcomes, all), all)...)
}

// cautions are those that would stand under the verdict, each with the outcomes for which it would, unless it is for
// all. The short list has those that are about the reading alone: what it is worth.
func cautions(outcomes []next.LeadsTo, all bool) []string {
	var order []next.Caution
	under := map[next.Caution][]string{}
	read := 0
	for _, o := range outcomes {
		if o.Unclear {
			continue
		}
		read++
		for _, c := range o.Cautions {
			if !c.Alone && !all {
				continue
			}
			if under[c] == nil {
				order = append(order, c)
			}
			under[c] = append(under[c], o.Outcome)
		}
	}
	return english.Each(order, func(c next.Caution) string {
		if len(under[c]) == read {
			return c.Says
		}
		return "If " + english.List(under[c], "or") + ": " + c.Says
	})
}

// likely keeps the outcomes that are worth a line: those that aren't next to impossible.
func likely(outcomes []next.LeadsTo, all bool) []next.LeadsTo {
	if all {
		return outcomes
	}
	return slices.DeleteFunc(slices.Clone(outcomes), func(o next.LeadsTo) bool { return o.Likelihood < 0.02 })
}

// claimThen tells an answer to the claim that a test would bring.
var claimThen = map[string]phrase.Code{"stands": phrase.ClaimAgrees, "falls": phrase.ClaimRuledOut,
	"open": phrase.ClaimOpens}

// together tells outcomes that lead to the same in one breath, in the order in which they come first.
func together(outcomes []next.LeadsTo, now wording.Result) []string {
	var out []string
	for i, o := range outcomes {
		same := func(x next.LeadsTo) bool {
			return x.Mostly == o.Mostly && x.SentOn == o.SentOn && x.To.Claim == o.To.Claim && x.To.Alike(&o.To)
		}
		if slices.ContainsFunc(outcomes[:i], same) {
			continue
		}
		readings := english.Only(outcomes[i:], func(x next.LeadsTo) (string, bool) { return x.Outcome, same(x) })
		says := strings.Join(readings, ", ") + ": " + map[bool]string{true: "mostly "}[o.Mostly] + o.To.Says
		if o.To.Claim != now.Claim {
			says += phrase.Reason{Code: claimThen[o.To.Claim]}.Says()
		}
		if o.SentOn {
			says += phrase.Reason{Code: phrase.ToLaboratory}.Says()
		}
		out = append(out, says)
	}
	return out
}

// notDone lists tests that are not suggested; in short only their names.
func (p *Printer) notDone(label string, tests []next.NotDone, reasons bool) {
	if len(tests) == 0 {
		return
	}
	if !reasons {
		p.Field(label, Plain, strings.Join(english.Each(tests, func(t next.NotDone) string { return t.Name }), "; "))
		return
	}
	for i, t := range tests {
		if i > 0 {
			label = ""
		}
		p.Field(label, Plain, t.Name+": "+t.Says)
	}
}
