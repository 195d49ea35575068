package proofread

import (
	"cmp"
	"fmt"
	"slices"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/sat"
)

func init() {
	Register(Check{Order: last, Look: doubts})
}

// reason is why something could not be found out; "" where it was.
type reason string

// The reasons. What leans on a part that is outside what is analysed is no doubt: that part is listed.
const (
	tooMany reason = "there are too many combinations"
	notMade reason = "no case that can be written down shows it"
)

// doubt is what could not be found out about a rule, by itself or beside others.
type doubt struct {
	alone  reason
	beside reason // the first
	others []*kb.Rule
}

// asking names the rules that are being looked at, so that what can't be found out about them is noted.
func (p *Pass) asking(rules ...*kb.Rule) { p.subject = rules }

// doubtful notes that something can't be found out about what is being looked at. Of a pair it is noted with the later
// one.
func (p *Pass) doubtful(why reason) {
	if why == "" || len(p.subject) == 0 {
		return
	}
	a := p.subject[0]
	if len(p.subject) == 1 {
		d := p.doubtOf(a)
		d.alone = cmp.Or(d.alone, why)
		return
	}
	b := p.subject[1]
	if p.later(b, a) {
		a, b = b, a
	}
	d := p.doubtOf(a)
	d.beside = cmp.Or(d.beside, why)
	if !slices.Contains(d.others, b) {
		d.others = append(d.others, b)
	}
}

func (p *Pass) doubtOf(r *kb.Rule) *doubt {
	d := p.doubts[r]
	if d == nil {
		d = &doubt{}
		p.doubts[r] = d
	}
	return d
}

// hard tells whether a rule by itself takes too many combinations.
func (p *Pass) hard(r *kb.Rule) bool { return p.doubts[r] != nil && p.doubts[r].alone == tooMany }

// doubtTable notes that something can't be found out about a table.
func (p *Pass) doubtTable(t *kb.Table, why reason) {
	if why != "" {
		p.unsure[t] = cmp.Or(p.unsure[t], why)
	}
}

// doubts tells what could not be found out, once for each rule and table. What is so of a rule by itself is so of its
// pairs.
func doubts(p *Pass) {
	for _, r := range p.Ruleset.Order {
		d := p.doubts[r]
		if d == nil {
			continue
		}
		says := diag.Diagnostic{Code: notAnalysed, Severity: diag.Note,
			Summary: fmt.Sprintf("not all can be found out about %q: %s", r.ID, d.alone),
			Detail: "That nothing else is said of it does not mean that it is sound. Parts of its condition may do " +
				"as rules of their own, that establish facts."}
		if d.alone == "" {
			others := slices.DeleteFunc(slices.Clone(d.others),
				func(o *kb.Rule) bool { return p.doubts[o] != nil && p.doubts[o].alone != "" })
			if len(others) == 0 {
				continue // told of the others
			}
			says.Summary = fmt.Sprintf("not all can be found out about %q beside %s: %s", r.ID, someOf(others),
				d.beside)
			says.Detail = "That nothing is said of them together does not mean that they are sound."
			says.Related = related("the other", others[:min(len(others), 3)])
			p.about(r, "rule", says, others...)
			continue
		}
		p.about(r, "rule", says)
	}
	for _, t := range p.Ruleset.Tables {
		if why := p.unsure[t]; why != "" {
			f := p.warnOf(Sheet{"table", t.ID}, t.Place.Span, notAnalysed, "not all gaps and overlaps of the table %q "+
				"can be found out: %s", t.ID, why)
			f.Severity, f.Detail = diag.Note, "That nothing else is said of it does not mean that it is sound. "+
				"Smaller tables are looked through to the end."
		}
	}
}

// someOf names a few rules.
func someOf(rules []*kb.Rule) string {
	if len(rules) == 1 {
		return fmt.Sprintf("%q", rules[0].ID)
	}
	return fmt.Sprintf("%q and %d more", rules[0].ID, len(rules)-1)
}

// can tells whether a formula can be true of some case. When that can't be found out it is said to be, and noted.
func (p *Pass) can(f *sat.Formula) bool { return p.canBe(f, sat.AnyReading) }

func (p *Pass) canBe(f *sat.Formula, mode sat.Mode) bool {
	_, answer := p.space.Satisfy(f, mode)
	if answer == sat.Unknown {
		p.doubtful(tooMany)
	}
	return answer != sat.No
}
