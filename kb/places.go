package kb

import (
	"slices"

	"whystone/kb/condition"
	"whystone/kb/diag"
)

// UntilKey is the key of the condition that lifts what a rule withholds, for [Rule.At] and [Rule.Part].
const UntilKey = "withholds.until"

// At is where the value of one of the rule's keys stands in its file; where it has none, the rule's id.
func (r *Rule) At(key string) diag.Span {
	if at, has := r.Keys[key]; has {
		return at
	}
	return r.Place.Span
}

// Part is where a part of the condition under a key ("if", "unless", UntilKey) stands, given as bytes of its text.
func (r *Rule) Part(key string, start, end int) diag.Span {
	c := map[string]*condition.Condition{"if": r.If, "unless": r.Unless, UntilKey: r.WithheldUntil()}[key]
	if c == nil {
		return r.Place.Span
	}
	return c.At(start, end)
}

// Establishing is where the rule establishes a fact: its name under "establishes".
func (r *Rule) Establishing(fact string) diag.Span {
	for _, e := range r.Establishes {
		if e.Fact.Name == fact {
			return e.Span
		}
	}
	return r.Place.Span
}

// Naming is where the rule's conditions first look at a slot.
func (r *Rule) Naming(slot int) diag.Span {
	for _, c := range []*condition.Condition{r.If, r.Unless, r.WithheldUntil()} {
		for _, n := range c.Leaves() {
			if slices.Contains(n.Leaf.Slots(), slot) {
				return c.At(n.Start, n.End)
			}
		}
	}
	return r.Place.Span
}
