package load

import (
	"whystone/kb"
	"whystone/kb/doc"
)

// withholds reads which names a rule keeps back. Its "until" is looked at when all rules have run, so nothing need come before
// the rule for its sake.
func (b *ruleBuilder) withholds(s *sheet) *kb.Withholding {
	v := s.Get("withholds")
	if v.IsNull() || !v.Keys(s.out, "names", "until", "beside") {
		return nil
	}
	w := &kb.Withholding{Until: b.condition(s, v.Get("until"))}
	names := v.Get("names")
	if names.IsNull() || names.Kind == doc.List && len(names.Items) == 0 {
		s.errorf("missing-key", v, "which names are kept back? Give \"names\": materials and groups")
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
