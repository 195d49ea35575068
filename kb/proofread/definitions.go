package proofread

import (
	"fmt"
	"slices"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/diag"
)

var unusedDefinition = diag.New("unused-definition", "A definition is used by nothing.",
	`A definition does something only through conditions, tables and derived quantities that name it, or through other definitions that do.
A misspelt name makes such a one.`)

func init() { Register(Check{Order: 71, Look: definitions, Finds: []diag.Code{unusedDefinition}}) }

// definitions finds definitions that nothing uses, and examples of definitions that don't come out.
func definitions(p *Pass) {
	used := map[string]bool{}
	var use func(name string)
	use = func(name string) {
		if d := p.Ruleset.Definition(name); d != nil && !used[name] {
			used[name] = true
			for _, other := range d.Uses {
				use(other)
			}
		}
	}
	for _, c := range p.allConditions() {
		for _, u := range c.Uses {
			use(u.Definition.Name)
		}
	}
	for _, d := range p.Ruleset.Definitions {
		p.definition(d, used[d.Name])
	}
}

// allConditions are those of rules, of tests' needs, and of what is derived.
func (p *Pass) allConditions() (out []*condition.Condition) {
	for _, r := range p.Ruleset.Rules {
		out = append(out, r.If, r.Unless, r.WithheldUntil())
		for _, e := range r.Establishes {
			out = append(out, e.Reads)
		}
	}
	for _, t := range p.Ruleset.Tests {
		for _, n := range t.Needs {
			out = append(out, n.If)
		}
		for _, d := range t.Derived {
			out = append(out, d.If, d.Reads)
		}
	}
	return slices.DeleteFunc(out, func(c *condition.Condition) bool { return c == nil })
}

func (p *Pass) definition(d *kb.Definition, used bool) {
	add := func(f diag.Diagnostic) { p.Add(Finding{Sheets: []Sheet{{"define", d.Name}}, Diagnostic: f}) }
	if !used {
		others := besides(p.Ruleset.Definitions, d, func(o *kb.Definition) string { return o.Name })
		f := warning(unusedDefinition, d.Place.Span, "nothing uses the definition %q", d.Name)
		f.Nearest, f.Detail = diag.Slip(d.Name, others), "Name it in a condition, or take it out."
		add(f)
	}
	if d.Source == "" {
		add(lacksSource(d.Name, d.Place.Span))
	}
	if len(d.Examples) == 0 {
		add(diag.Diagnostic{Code: noExamples, Severity: diag.Note, Span: d.Place.Span,
			Summary: fmt.Sprintf("%q has no examples", d.Name),
			Detail:  "Give one of each thing that it can come to: examples are run whenever the rules change."})
	}
	for _, ex := range d.Examples {
		p.run.Do(ex.Case, ex.Case.On(p.On))
		is, _, err := p.run.Truth(ex.Asks)
		if err == nil && is == ex.Is {
			continue
		}
		f := diag.Diagnostic{Code: diag.ExampleFails, Severity: diag.Error, Span: ex.Span,
			Summary: fmt.Sprintf("an example of %q does not come out: %s is %s", d.Name, ex.Asks.Text, is),
			Detail:  "Correct the example, or the definition. The values below decided it."}
		for _, slot := range ex.Asks.Reads {
			f.Values = append(f.Values, diag.Value{Name: p.Ruleset.Scope.At(slot).Name,
				Value: p.run.State.Value(p.Ruleset.Scope, slot)})
		}
		add(f)
	}
}
