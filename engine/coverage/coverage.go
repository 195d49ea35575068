// Package coverage counts what an archive of cases exercises of a ruleset: how often each rule, and each part of its
// condition, held, failed, stayed undecided, and decided anything.
//
// A rule decided a case when it held and without it the case comes out otherwise: another verdict, name, list of nodes
// or answer to the claim; other materials excluded, and so other candidates; another caution, laboratory, test called
// for or forbidden; another reading set aside. Shares and doubts may move without that, and rules that wait for an
// exception are not looked at. What is shown as it stands in a rule (cautions and the like) is decided unless another
// rule shows the same. Whatever passes through the arithmetic or through other rules (evidence, what is set aside,
// facts) is found by judging the case again with the rule muted, by the one evaluator that there is. A draft changes
// nothing, so it decides nothing. Two rules of which either would do decide nothing each; taken away together they may.
//
// A part of a condition decided when it was decided itself and the truth of the rule's whole condition, its exception
// included, would be another had the part been undecided.
//
// All figures are counts of cases, so that any number of workers comes to the same bytes.
package coverage

import (
	"cmp"
	"slices"
	"time"

	"whystone/kb"
	"whystone/kb/diag"
)

// Report is what an archive exercises of a ruleset.
type Report struct {
	Format   int    `json:"format"`
	Ruleset  string `json:"ruleset"` // its digest
	Method   int    `json:"method"`
	AsOf     string `json:"as_of"`      // the date by which cases were judged that say none
	AsOfFrom string `json:"as_of_from"` // --as-of or clock
	Undated  int64  `json:"undated"`    // how many those are
	// Partial tells that the archive was not read to its end.
	Partial    bool      `json:"partial"`
	Cases      int64     `json:"cases"` // judged
	Unreadable int64     `json:"unreadable"`
	Unread     []Unread  `json:"unread"` // the first of those, in the order of the archive
	Rules      []Rule    `json:"rules"`  // that are evaluated, worst first
	Findings   diag.List `json:"findings"`
}

// Unread is a record that could not be read as a case.
type Unread struct {
	Number int64  `json:"number"` // from 1
	Place  string `json:"place"`
	Says   string `json:"says"`
}

// Rule is what came of a rule. Held, Failed, Undecided, NotInForce and Faults add up to the cases.
type Rule struct {
	ID     string `json:"rule"`
	Status string `json:"status"` // active or draft
	Layer  string `json:"layer"`
	layer  int    // its place in the stack, from the lowest
	diag.Spot
	Count
	Parts []Part `json:"parts"` // of its condition, then of its exception, in the order of the text
}

// Count counts the cases in which a rule came out one way or another.
type Count struct {
	Held       int64 `json:"held"`
	Failed     int64 `json:"failed"`
	Undecided  int64 `json:"undecided"`
	NotInForce int64 `json:"not_in_force"` // by its dates
	Faults     int64 `json:"faults"`       // it could not be evaluated
	Decided    int64 `json:"decided"`      // among Held
}

func (c *Count) add(o *Count) {
	c.Held, c.Failed, c.Undecided = c.Held+o.Held, c.Failed+o.Failed, c.Undecided+o.Undecided
	c.NotInForce, c.Faults, c.Decided = c.NotInForce+o.NotInForce, c.Faults+o.Faults, c.Decided+o.Decided
}

// Part is what came of a part of a rule's condition that was written as one test. Held, Failed and Undecided add up to
// the cases in which the rule was in force.
type Part struct {
	Says string `json:"says"`
	Key  string `json:"key"` // of the rule: if or unless
	diag.Spot
	PartCount
}

// PartCount counts the cases in which a part of a condition came out one way or another.
type PartCount struct {
	Held      int64 `json:"held"`
	Failed    int64 `json:"failed"`
	Undecided int64 `json:"undecided"`
	Decided   int64 `json:"decided"` // among Held and Failed: the whole rests on it
}

func (c *PartCount) add(o *PartCount) {
	c.Held, c.Failed, c.Undecided, c.Decided = c.Held+o.Held, c.Failed+o.Failed, c.Undecided+o.Undecided,
		c.Decided+o.Decided
}

// What is weak about a rule or a part of it, as it is told to people.
const (
	NeverInForce  = "never in force"
	NeverHeld     = "never held"
	NeverDecided  = "held, but decided nothing"
	NeverFailed   = "never failed"
	AlwaysUnknown = "always undecided"
)

// Weakness says what is weak about the rule, or nothing: a draft decides nothing, and a rule without a condition never
// fails, by their nature.
func (r *Rule) Weakness() string {
	switch {
	case r.Held == 0 && r.NotInForce > 0 && r.Failed+r.Undecided+r.Faults == 0:
		return NeverInForce
	case r.Held == 0 && r.Failed == 0 && r.Undecided > 0:
		return AlwaysUnknown
	case r.Held == 0:
		return NeverHeld
	case r.Decided == 0 && !r.Draft():
		return NeverDecided
	case r.Failed == 0 && len(r.Parts) > 0:
		return NeverFailed
	}
	return ""
}

// Draft tells whether the rule is evaluated without effect.
func (r *Rule) Draft() bool { return r.Status == string(kb.Draft) }

// Weakness says which way the part never came out, or nothing.
func (p *Part) Weakness() string {
	switch {
	case p.Held+p.Failed+p.Undecided == 0:
		return NeverInForce
	case p.Held+p.Failed == 0:
		return AlwaysUnknown
	case p.Held == 0:
		return NeverHeld
	case p.Failed == 0:
		return NeverFailed
	}
	return ""
}

// worst orders rules: those that never held, those that held and decided nothing, the others; in each the house's own
// before those of the layers below, and the rarest first.
func worst(a, b Rule) int {
	return cmp.Or(cmp.Compare(a.rank(), b.rank()), cmp.Compare(b.layer, a.layer), cmp.Compare(a.Held, b.Held),
		cmp.Compare(a.ID, b.ID))
}

func (r *Rule) rank() int {
	switch {
	case r.Held == 0:
		return 0
	case r.Decided == 0 && !r.Draft():
		return 1
	}
	return 2
}

// Report tells what was counted, worst first, as of a day: findings may be accepted until one.
func (k *Counter) Report(on time.Time) *Report {
	rs := k.engine.Ruleset
	r := &Report{Format: 1, Ruleset: rs.Digest, Method: rs.Method, Cases: k.cases, Undated: k.undated,
		Unreadable: k.unreadable, Unread: append([]Unread{}, k.unread...), Rules: []Rule{}, Findings: diag.List{}}
	for i, rule := range rs.Order {
		x := Rule{ID: rule.ID, Status: string(rule.Status), Layer: rule.Place.Layer,
			layer: slices.Index(rs.Layers, rule.Place.Layer), Spot: rule.Place.Span.Spot(), Count: k.rules[i],
			Parts: []Part{}}
		for n, p := range k.watched[i].Parts {
			x.Parts = append(x.Parts, part(rule, p.Node.Start, p.Node.End, p.Exception, k.parts[i][n]))
		}
		r.Rules = append(r.Rules, x)
	}
	slices.SortFunc(r.Rules, worst)
	for i := range r.Rules {
		r.find(&r.Rules[i], rs.Rule(r.Rules[i].ID), on)
	}
	return r
}

func part(r *kb.Rule, start, end int, exception bool, n PartCount) Part {
	key, of := "if", r.If
	if exception {
		key, of = "unless", r.Unless
	}
	return Part{Says: oneLine(of.Text[start:end]), Key: key, Spot: r.Part(key, start, end).Spot(), PartCount: n}
}
