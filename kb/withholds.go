package kb

import (
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/doc"
)

// Withholding keeps names back while its rule fires and Until does not hold, undecided included.
type Withholding struct {
	Names     []string             // ids of the materials and groups whose names are kept back, as written
	Leaves    []int                // indexes of the leaves at or below its names, rising
	Until     *condition.Condition // nil: for as long as the rule fires
	Beside    []int                // the leaves that a narrowed list of withheld names takes in, rising
	BesideIDs []string             // as written
}

// withholds reads which names a rule keeps back. Its "until" is looked at when all rules have run, so nothing need come before
// the rule for its sake.
func (b *ruleBuilder) withholds(s *sheet) *Withholding {
	v := s.Get("withholds")
	if v.IsNull() || !v.Keys(s.out, "names", "until", "beside") {
		return nil
	}
	w := &Withholding{}
	if v.Get("until") != nil {
		w.Until = b.conditionAt(s, v.Get("until"))
	}
	names := v.Get("names")
	if names.IsNull() || names.Kind == doc.List && len(names.Items) == 0 {
		s.errorf(diag.MissingKey, v, "which names are kept back? Give \"names\": materials and groups")
		return w
	}
	chosen := b.nodes(s, names, "What is not listed has no name that could be kept back.")
	w.Names, w.Leaves = chosen.ids, chosen.Leaves
	if beside := v.Get("beside"); !beside.IsNull() {
		chosen := b.nodes(s, beside, "What is not listed has no name to stand in a narrowed list.")
		w.BesideIDs, w.Beside = chosen.ids, chosen.Leaves
	}
	return w
}

// WithheldUntil is the condition that lifts what the rule withholds, or nil.
func (r *Rule) WithheldUntil() *condition.Condition {
	if r.Withholds == nil {
		return nil
	}
	return r.Withholds.Until
}
