package kb

import (
	"strings"
	"time"

	"whystone/kb/casefile"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/doc"
	"whystone/kb/truth"
)

// readExamples reads the examples that rules carry, whatever else is wrong with the ruleset. What follows from their stones
// is added by deriveExamples, when there is a program to reckon with.
func readExamples(rs *Ruleset, out *diag.List) {
	reader := rs.CaseReader()
	reader.Derive = nil
	for _, r := range rs.Rules {
		v := r.at.Get("examples")
		if v.IsNull() {
			continue
		}
		items, _ := v.List(out)
		for _, it := range items {
			if ex, ok := readExample(it, reader.ReadExample, out); ok {
				r.Examples = append(r.Examples, ex)
			}
		}
	}
}

func (rs *Ruleset) deriveExamples() {
	for _, r := range rs.Rules {
		for _, ex := range r.Examples {
			rs.Derive(ex.Case)
		}
	}
}

func readExample(n *doc.Node, read func(*doc.Node, *diag.List) *casefile.Case, out *diag.List) (Example, bool) {
	is := n.Get("is")
	if is.IsNull() {
		if n.Kind == doc.Map {
			read(n, out)
		}
		if n.Misspells("is", "readings", "stone", "stake", "case") { // said by what read it
			return Example{}, false
		}
		out.Errorf(diag.MissingKey, n.Span, "an example says what the rule's condition \"is\": holds, fails or undecided")
		return Example{}, false
	}
	if meant := truthMeant(is); meant != "" {
		out.Errorf(diag.UnknownName, is.Span, "a condition holds, fails or is undecided; %q is none of these", is.Text).Nearest = meant
		return Example{}, false
	}
	word, ok := is.Str(out)
	if !ok {
		return Example{}, false
	}
	value, ok := truth.Parse(word)
	if !ok {
		out.Errorf(diag.UnknownName, is.Span, "%q is not one of holds, fails, undecided", word).
			Nearest = diag.Nearest(word, []string{"fails", "holds", "undecided"})
		return Example{}, false
	}
	c := read(n, out)
	return Example{Case: c, Is: value, Span: n.Span}, c != nil
}

// truthMeant is the truth value that somebody means who writes true or yes, false or no; else "".
func truthMeant(n *doc.Node) string {
	switch strings.ToLower(n.Text) {
	case "true", "yes", "on":
		return truth.Holds.String()
	case "false", "no", "off":
		return truth.Fails.String()
	}
	return ""
}

// conditionOf is what a rule's condition came to in the last case, whether or not the rule was in force then.
func (run *Run) conditionOf(r *Rule) truth.Value {
	return condition.Of(run.values, run.rs.steps[r.order].whole)
}

// CheckExamples runs every example and reports those that don't come out. on dates cases that say no date. An example is
// of the condition alone: the case that caused a rule was there before the rule was in force.
func (rs *Ruleset) CheckExamples(on time.Time, out *diag.List) {
	run := rs.NewRun()
	for _, r := range rs.Rules {
		run.checkExamples(r, on, out)
	}
}

// CheckExamples runs the examples of one rule.
func (run *Run) CheckExamples(r *Rule, on time.Time) (out diag.List) {
	run.checkExamples(r, on, &out)
	return out
}

func (run *Run) checkExamples(r *Rule, on time.Time, out *diag.List) {
	if r.order < 0 {
		return
	}
	for i := range r.Examples {
		ex := &r.Examples[i]
		when := on
		if ex.Case.HasTaken {
			when = ex.Case.Taken
		}
		run.Do(ex.Case, when)
		if got := run.conditionOf(r); got != ex.Is {
			run.exampleFails(r, ex, got, out)
		}
	}
}

// exampleFails reports an example that does not come out, with the values that decided it.
func (run *Run) exampleFails(r *Rule, ex *Example, got truth.Value, out *diag.List) {
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
