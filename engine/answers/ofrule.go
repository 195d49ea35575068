package answers

import (
	"encoding/json"
	"slices"
	"time"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/logic"
)

// Outcome is what came of a rule on a case.
type Outcome string

// The first of these that applies is told.
const (
	RuleRemoved   Outcome = "removed" // a layer above retires or replaces it: By and Layer say which
	RuleRetired   Outcome = "retired" // its own sheet says so
	RuleOutOfDays Outcome = "out of its days"
	RuleReplaced  Outcome = "replaced" // on this day another rule stands in for it: By
	RuleFaulted   Outcome = "faulted"  // it could not be evaluated: Fault
	RuleFired     Outcome = "fired"
	RuleExcepted  Outcome = "excepted" // its condition holds, and so does its exception
	RuleFailed    Outcome = "failed"   // a part of its condition fails
	RuleWaits     Outcome = "waits"    // for what Waits lists
)

// OfRule is what came of one rule on a case, part by part.
type OfRule struct {
	Format  int        `json:"format"`
	Case    string     `json:"case"`
	Rule    string     `json:"rule"`
	Text    string     `json:"text"` // what the rule says, in its author's words
	Outcome Outcome    `json:"outcome"`
	Draft   bool       `json:"draft"` // it changes nothing yet
	Parts   []RulePart `json:"parts"`
	Waits   []WaitsFor `json:"waits"`
	By      string     `json:"by,omitempty"`
	Layer   string     `json:"layer,omitempty"`
	Since   string     `json:"since,omitempty"` // a day; of one out of its days
	Until   string     `json:"until,omitempty"`
	Fault   string     `json:"fault,omitempty"`
	Place   diag.Spot  `json:"place"`
}

// RulePart is one comparison, choice, feature, seen(...) or fact of a condition or its exception.
type RulePart struct {
	Text      string     `json:"text"`
	Exception bool       `json:"exception"`
	Truth     string     `json:"truth"`
	Decides   bool       `json:"decides"` // without it the truth of the whole would be another
	Reads     []PartRead `json:"reads"`
}

// PartRead is what a case has under a name that a part reads.
type PartRead struct {
	Name  string `json:"name"`
	Value string `json:"value"` // empty: nothing was read
}

// OfRule tells what came of a rule. A rule that no layer above left standing is found by its sheet; nil if there is
// none.
func (a *Asker) OfRule(c *casefile.Case, m engine.Moment, id string) *OfRule {
	out := &OfRule{Format: Format, Case: c.ID, Rule: id, Parts: []RulePart{}, Waits: []WaitsFor{}}
	r := a.rs.Rule(id)
	if r == nil {
		return a.removed(out)
	}
	out.Text, out.Draft, out.Place = r.Says, r.Status == kb.Draft, r.Place.Span.Spot()
	if r.Status == kb.Retired {
		out.Outcome = RuleRetired
		return out
	}
	able := a.able(c, m.On) // the rules have run then
	o := condition.Observe(r.If, r.Unless)
	_, err := o.Evaluate(&a.run.State)
	for i := range o.Parts {
		out.Parts = append(out.Parts, a.part(r, &o.Parts[i]))
	}
	out.Outcome = outcome(a.run, r, m.On, err)
	switch out.Outcome {
	case RuleOutOfDays:
		out.Since, out.Until = kb.Day(r.Since), kb.Day(r.Until)
	case RuleReplaced:
		out.By, out.Layer = r.ReplacedBy.ID, r.ReplacedBy.Place.Layer
	case RuleFaulted:
		out.Fault = err.Error()
	case RuleWaits:
		out.Waits = a.waitsFor(a.causes(r), able)
	}
	return out
}

// outcome is what came of a rule that is evaluated, in the last run.
func outcome(run *eval.Run, r *kb.Rule, on time.Time, err error) Outcome {
	switch v := run.Rules[r.Turn]; {
	case !run.InForce[r.Turn] && r.Dated(on):
		return RuleReplaced
	case !run.InForce[r.Turn]:
		return RuleOutOfDays
	case v == logic.Undecided && err != nil:
		return RuleFaulted
	case v == logic.Holds:
		return RuleFired
	case v == logic.Undecided:
		return RuleWaits
	}
	if holds(run, r.If) && r.Unless != nil {
		return RuleExcepted
	}
	return RuleFailed
}

// holds tells whether a condition holds in the last run; none always does.
func holds(run *eval.Run, c *condition.Condition) bool {
	if c == nil {
		return true
	}
	v, _, _ := run.Truth(c) // a fault is no truth
	return v == logic.Holds
}

// part is one part of a rule with what it looked at.
func (a *Asker) part(r *kb.Rule, p *condition.Observed) RulePart {
	text := r.If
	if p.Exception {
		text = r.Unless
	}
	out := RulePart{Text: text.Text[p.Node.Start:p.Node.End], Exception: p.Exception, Truth: p.Truth.String(),
		Decides: p.Decides, Reads: []PartRead{}}
	var slots []int
	for _, n := range p.Node.Leaves() {
		slots = append(slots, n.Leaf.Slots()...)
	}
	slices.Sort(slots)
	for _, slot := range slices.Compact(slots) {
		value, _ := engine.Standing(a.rs, &a.run.State, slot)
		out.Reads = append(out.Reads, PartRead{Name: a.rs.Scope.At(slot).Name, Value: value})
	}
	return out
}

// removed tells of a rule that the ruleset no longer has: some layer's files have its sheet, and a layer above takes it
// away.
func (a *Asker) removed(out *OfRule) *OfRule {
	var own *kb.Sheet
	for i := range a.rs.Sheets {
		s := &a.rs.Sheets[i]
		switch {
		case s.Kind != kb.RuleSheet:
		case s.ID == out.Rule && !s.Retires:
			own = s
		case s.ID == out.Rule, replaces(s) == out.Rule:
			out.By, out.Layer = s.ID, s.Layer
		}
	}
	if own == nil {
		return nil
	}
	out.Outcome, out.Place = RuleRemoved, own.Span.Spot()
	if out.By == out.Rule {
		out.By = "" // it is retired, not replaced
	}
	return out
}

// replaces is the id of what a sheet stands in for.
func replaces(s *kb.Sheet) string {
	var sheet struct {
		Replaces string `json:"replaces"`
	}
	_ = json.Unmarshal([]byte(s.Written), &sheet) // a sheet whose key is no text replaces nothing
	return sheet.Replaces
}
