package kb

import (
	"slices"

	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/doc"
)

// UntilKey is the key of the condition that lifts what a rule withholds, for [Rule.At] and [Rule.Part].
const UntilKey = "withholds.until"

// value is what the rule's sheet says under a key.
func (r *Rule) value(key string) *doc.Node {
	if key == UntilKey {
		return r.at.Get("withholds").Get("until")
	}
	return r.at.Get(key)
}

// At is where the value of one of the rule's keys stands in its file; where it has none, the rule's id.
func (r *Rule) At(key string) diag.Span {
	if v := r.value(key); !v.IsNull() {
		return v.Span
	}
	return r.Origin.Span
}

// Part is where a part of the condition under a key ("if", "unless") stands, given as bytes of its text.
func (r *Rule) Part(key string, start, end int) diag.Span {
	if v := r.value(key); !v.IsNull() {
		return v.At(start, end)
	}
	return r.Origin.Span
}

// Establishing is where the rule establishes a fact: its name under "establishes".
func (r *Rule) Establishing(fact string) diag.Span {
	if v := r.at.Get("establishes"); !v.IsNull() {
		for _, e := range v.Entries {
			if e.Key.Text == fact {
				return e.Key.Span
			}
		}
	}
	return r.Origin.Span
}

// Naming is where the rule's conditions first look at a slot.
func (r *Rule) Naming(slot int) diag.Span {
	for _, at := range []struct {
		key string
		c   *condition.Condition
	}{{"if", r.If}, {"unless", r.Unless}, {UntilKey, r.WithheldUntil()}} {
		if at.c == nil {
			continue
		}
		for _, n := range at.c.Leaves() {
			if slices.Contains(n.Leaf.Slots(), slot) {
				return r.Part(at.key, n.Start, n.End)
			}
		}
	}
	return r.Origin.Span
}
