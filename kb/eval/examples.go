package eval

import (
	"fmt"
	"slices"
	"time"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/logic"
)

// CheckExamples runs the examples of a rule and reports those that don't come out. on dates cases that say no date. An
// example is of the condition alone: the case that caused a rule was there before the rule was in force.
func (run *Run) CheckExamples(r *kb.Rule, on time.Time) (out diag.List) {
	if r.Turn < 0 {
		return nil
	}
	for i := range r.Examples {
		ex := &r.Examples[i]
		run.Do(ex.Case, ex.Case.On(on))
		if got := condition.Of(run.values, run.steps[r.Turn].Whole); got != ex.Is {
			run.exampleFails(r, ex, got, &out)
		}
	}
	return out
}

// exampleFails reports an example that does not come out: what came of the rule, which parts of it decided that or left
// it open, and what they looked at.
func (run *Run) exampleFails(r *kb.Rule, ex *kb.Example, got logic.Value, out *diag.List) {
	d := out.Errorf(diag.ExampleFails, ex.Span, "an example of %q should be %q, and is %q", r.ID, ex.Is, got)
	o := condition.Observe(r.If, r.Unless)
	_, err := o.Evaluate(&run.State)
	d.Detail = run.came(r, got, err) + " Correct the example, or the rule."
	for i := range o.Parts {
		if p := &o.Parts[i]; p.Truth == logic.Undecided && got == logic.Undecided || p.Decides {
			d.Related = append(d.Related, run.partCame(r, p))
		}
	}
	if more := len(d.Related) - mostParts; more > 0 {
		d.Related = d.Related[:mostParts]
		d.Detail += fmt.Sprintf(" The first %d of %d parts are shown.", mostParts, mostParts+more)
	}
	for _, slot := range r.Slots() {
		if run.State.Slots[slot].Status == condition.Ready {
			d.Values = append(d.Values, diag.Value{Name: run.rs.Scope.At(slot).Name,
				Value: run.State.Value(run.rs.Scope, slot)})
		}
	}
}

// mostParts is how many parts of a condition are told of.
const mostParts = 4

// came is what came of a rule in a sentence.
func (run *Run) came(r *kb.Rule, got logic.Value, err error) string {
	met := logic.Holds
	if r.If != nil {
		met, _, _ = run.Truth(r.If)
	}
	switch {
	case err != nil:
		return "It could not be worked out: " + err.Error() + "."
	case got == logic.Holds:
		return "Its condition is met, and no exception."
	case got == logic.Fails && met == logic.Holds:
		return "Its condition is met, and so is its exception."
	case got == logic.Fails:
		return "Its condition is not met."
	case met == logic.Holds:
		return "Its condition is met, and its exception is open."
	}
	return "Its condition is open."
}

// partCame is what came of a part, where it stands.
func (run *Run) partCame(r *kb.Rule, p *condition.Observed) diag.Related {
	key := map[bool]string{false: "if", true: "unless"}[p.Exception]
	says := map[logic.Value]string{logic.Holds: "this part holds", logic.Fails: "this part does not hold",
		logic.Undecided: "this part is open"}[p.Truth]
	var why []string
	for _, c := range run.Causes(r) {
		if slices.ContainsFunc(p.Node.Leaves(), func(n *condition.Node) bool {
			return slices.ContainsFunc(n.Leaf.Slots(),
				func(slot int) bool { return run.rs.Scope.At(slot).Name == c.Name })
		}) {
			why = append(why, c.String())
		}
	}
	if p.Truth == logic.Undecided && why != nil {
		says += ", as " + english.List(why, "and")
	}
	return diag.Related{Span: r.Part(key, p.Node.Start, p.Node.End), Says: says}
}
