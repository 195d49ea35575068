package load

import (
	"slices"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/vocab"
)

// reviewed sees that somebody else has read each active rule, where the policy demands it: the rules of the lowest
// layer that says "review: required", and of those above it. A row of a table may say it once for the table.
func (st *stacked) reviewed(p *kb.Policy, rules map[*kb.Rule]*sheet) {
	if !p.ReviewRequired {
		return
	}
	first := slices.IndexFunc(st.written, func(s kb.Sheet) bool {
		return s.Kind == kb.PolicySheet && s.ID == "review" && s.Written == `"required"`
	})
	from := slices.Index(st.layers, st.written[first].Layer)
	for r, s := range rules {
		if r.Status != kb.Active || slices.Index(st.layers, r.Place.Layer) < from {
			continue
		}
		switch by := s.Get("reviewed_by"); {
		case r.ReviewedBy == "":
			s.errorf(diag.NotReviewed, s.Node, "nobody has reviewed the rule %q, and it is active", r.ID).Detail =
				"This house demands it (policy: review: required). Say reviewed_by: who, or leave it a draft until " +
					"it is read."
		case vocab.Fold(r.ReviewedBy) == vocab.Fold(r.Author):
			s.errorf(diag.NotReviewed, by, "the rule %q was reviewed by its author", r.ID).Detail =
				"This house demands that somebody else reads it (policy: review: required)."
		}
	}
}
