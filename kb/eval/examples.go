package eval

import (
	"time"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/logic"
)

// CheckExamples runs the examples of a rule and reports those that don't come out. on dates cases that say no date. An example
// is of the condition alone: the case that caused a rule was there before the rule was in force.
func (run *Run) CheckExamples(r *kb.Rule, on time.Time) (out diag.List) {
	if r.Turn < 0 {
		return nil
	}
	for i := range r.Examples {
		ex := &r.Examples[i]
		when := on
		if ex.Case.HasTaken {
			when = ex.Case.Taken
		}
		run.Do(ex.Case, when)
		if got := condition.Of(run.values, run.steps[r.Turn].Whole); got != ex.Is {
			run.exampleFails(r, ex, got, &out)
		}
	}
	return out
}

// exampleFails reports an example that does not come out, with the values that decided it.
func (run *Run) exampleFails(r *kb.Rule, ex *kb.Example, got logic.Value, out *diag.List) {
	d := out.Errorf(diag.ExampleFails, ex.Span, "an example of %q should be %q, and is %q", r.ID, ex.Is, got)
	d.Detail = "Correct the example, or the rule's condition."
	for _, c := range run.Causes(r) {
		d.Values = append(d.Values, diag.Value{Name: c.Name, Value: c.String()})
	}
	for _, slot := range r.Slots() {
		d.Values = append(d.Values, diag.Value{Name: run.rs.Scope.At(slot).Name, Value: run.State.Value(run.rs.Scope, slot)})
	}
	if len(d.Values) > 0 {
		d.Detail += " The values below decided it."
	}
}
