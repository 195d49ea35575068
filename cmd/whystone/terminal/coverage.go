package terminal

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"whystone/engine/coverage"
	"whystone/kb/english"
)

// Coverage writes what an archive exercises of a ruleset, worst first: the rules that never held, never failed or never
// decided anything, each with the parts of its condition that never came out one way; or all of them, with every part.
func (p *Printer) Coverage(r *coverage.Report, all bool) {
	p.Text(Bold, 0, coverageSummary(r))
	for i, u := range r.Unread {
		if i == mostUnread {
			p.Text(Plain, 2, "and "+english.Thousands(float64(r.Unreadable-mostUnread))+" more")
			break
		}
		p.hang(Plain, "  ", "    ", u.Place+": "+u.Says)
	}
	if r.Cases == 0 {
		return
	}
	told, draft := 0, false
	for _, g := range coverageGroups {
		if g.weak == "" && !all {
			continue
		}
		rules := slices.DeleteFunc(slices.Clone(r.Rules), func(x coverage.Rule) bool { return groupOf(&x) != g.weak })
		if len(rules) == 0 {
			continue
		}
		p.Blank()
		p.line(run{Accent, g.head}, run{Dim, " (" + strconv.Itoa(len(rules)) + ")"})
		for i := range rules {
			p.covered(&rules[i], len(english.Thousands(float64(r.Cases))), all)
			draft = draft || rules[i].Draft()
		}
		told += len(rules)
	}
	p.Blank()
	p.Text(Plain, 0, coverageClosing(r, told, draft))
}

// mostUnread is how many records that can't be read are shown.
const mostUnread = 5

// coverageGroups are the headings under which rules stand.
var coverageGroups = []struct{ weak, head string }{
	{coverage.NeverHeld, "Never held"},
	{coverage.NeverDecided, "Held, but decided nothing"},
	{coverage.NeverFailed, "Never failed"},
	{"", "Held, failed and decided something"},
}

// groupOf is the weakness under whose heading a rule stands. The ways of never holding stand together.
func groupOf(x *coverage.Rule) string {
	if x.Held == 0 {
		return coverage.NeverHeld
	}
	return x.Weakness()
}

func coverageSummary(r *coverage.Report) string {
	var b strings.Builder
	if r.Partial {
		b.WriteString("The archive was not read to its end. ")
	}
	b.WriteString(casesOf(r.Cases) + " judged")
	if r.Unreadable > 0 {
		b.WriteString("; " + english.Count(r.Unreadable, "record", "records") + " could not be read")
	}
	b.WriteString(".")
	if r.Undated > 0 {
		b.WriteString(" " + casesOf(r.Undated) + " without a date: judged as of " +
			r.AsOf[:min(len(r.AsOf), len(time.DateOnly))] + " (" + r.AsOfFrom + ").")
	}
	if r.Cases == 0 {
		return b.String() + " So nothing can be said of the rules."
	}
	n := map[string]int{}
	for i := range r.Rules {
		n[groupOf(&r.Rules[i])]++
	}
	b.WriteString(" Of " + english.Count(len(r.Rules), "rule", "rules") + " " + strconv.Itoa(n[coverage.NeverHeld]) +
		" never held, " +
		strconv.Itoa(n[coverage.NeverDecided]) + " held but decided nothing, and " +
		strconv.Itoa(n[coverage.NeverFailed]) + " never failed.")
	return b.String()
}

func coverageClosing(r *coverage.Report, told int, draft bool) string {
	says := "Decided: cases that come out otherwise without the rule; of a part of a condition, cases in which the " +
		"condition rests on it."
	if draft {
		says += " A draft is evaluated and changes nothing, so it decides nothing."
	}
	if rest := len(r.Rules) - told; rest > 0 {
		says += " " + english.Count(rest, "rule is", "rules are") + " not shown."
		oneWay := 0
		for i := range r.Rules {
			x := &r.Rules[i]
			if groupOf(x) == "" && slices.ContainsFunc(x.Parts,
				func(p coverage.Part) bool { return p.Weakness() != "" }) {
				oneWay++
			}
		}
		if oneWay > 0 {
			says += " Of these " + english.Count(oneWay, "has a part", "have parts") + " that came out one way only."
		}
	}
	return says
}

// covered writes one rule, and what there is to say of the parts of its condition.
func (p *Printer) covered(x *coverage.Rule, digits int, all bool) {
	id := x.ID
	if x.Draft() {
		id += " (draft)"
	}
	if at := x.File + ":" + strconv.Itoa(x.Line); cellsOf(id)+cellsOf(at)+4 <= p.width {
		p.Columns(Bold, "  "+id, at)
	} else {
		p.Text(Bold, 2, id)
		p.Text(Dim, 4, at)
	}
	p.counts(4, digits, x.Held, x.Failed, x.Undecided, x.Decided)
	var also []string
	if x.NotInForce > 0 {
		also = append(also, "not in force in "+casesOf(x.NotInForce))
	}
	if x.Faults > 0 {
		also = append(also, "could not be evaluated in "+casesOf(x.Faults))
	}
	if also != nil {
		p.Text(Dim, 4, strings.Join(also, "; "))
	}
	for i := range x.Parts {
		part := &x.Parts[i]
		weak := part.Weakness()
		if weak == "" && !all || weak == coverage.NeverInForce {
			continue
		}
		says := part.Says
		if part.Key == "unless" {
			says = "unless " + says
		}
		if weak != "" {
			says += ": " + weak
		}
		if !all && weak != coverage.AlwaysUnknown {
			says += " (" + otherWays(part) + ")"
		}
		p.hang(Plain, "    · ", "      ", says)
		if all {
			p.counts(6, digits, part.Held, part.Failed, part.Undecided, part.Decided)
		}
	}
}

// cameOut are the ways in which a rule or a part of it comes out, and whether it decided.
var cameOut = [...]string{"held", "failed", "undecided", "decided"}

// otherWays says how a part came out that came out one way only.
func otherWays(part *coverage.Part) string {
	var out []string
	for i, n := range []int64{part.Held, part.Failed, part.Undecided} {
		if n > 0 {
			out = append(out, cameOut[i]+" "+english.Thousands(float64(n)))
		}
	}
	return strings.Join(out, ", ")
}

// counts writes counts under each other's, or as a sentence where the line is too short for that.
func (p *Printer) counts(indent, digits int, of ...int64) {
	var wide, narrow []string
	for i, count := range of {
		n := english.Thousands(float64(count))
		wide = append(wide, cameOut[i]+strings.Repeat(" ", 1+digits-len(n))+n)
		narrow = append(narrow, cameOut[i]+" "+n)
	}
	if line := strings.Repeat(" ", indent) + strings.Join(wide, "  "); cellsOf(line) <= p.width {
		p.line(run{Dim, line})
		return
	}
	p.Text(Dim, indent, strings.Join(narrow, ", "))
}

func casesOf(n int64) string { return english.Count(n, "case", "cases") }
