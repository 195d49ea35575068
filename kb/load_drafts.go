package kb

import (
	"slices"

	"whystone/kb/diag"
	"whystone/kb/doc"
)

// Promote is the same ruleset with these drafts active, or all of them when none is named. It is built anew from the same
// files, read as if they said "status: active" there, and has the digest of files that do. What keeps a draft from
// being active (facts in a circle, say) is told in the list, and the result is nil then. A ruleset without drafts comes
// back as it is when none is named.
func (rs *Ruleset) Promote(ids ...string) (*Ruleset, diag.List) {
	return rs.promote(ids, func(s *sheet) { s.put("status", string(Active)) })
}

// Trial is Promote for trying drafts out on cases that are there already. A draft's "since" says when it is to begin,
// which is seldom before the cases that one has, so that a trial reads the files as if they didn't say it; its digest is
// that of such files. An "until" still counts.
func (rs *Ruleset) Trial(ids ...string) (*Ruleset, diag.List) {
	return rs.promote(ids, func(s *sheet) {
		s.put("status", string(Active))
		s.drop("since")
	})
}

func (rs *Ruleset) promote(ids []string, change func(*sheet)) (*Ruleset, diag.List) {
	var out diag.List
	chosen := rs.chosen(ids, &out)
	switch {
	case out.HasErrors():
		return nil, out
	case len(chosen) == 0:
		return rs, nil
	}
	return build(rs.Files, func(s *sheet) {
		if slices.ContainsFunc(chosen, func(r *Rule) bool { return r.Origin.Span == s.origin.Span }) {
			change(s)
		}
	})
}

// chosen are the drafts that are meant, all when none is named. What is no draft is reported.
func (rs *Ruleset) chosen(ids []string, out *diag.List) (chosen []*Rule) {
	drafts := rs.Drafts()
	if len(ids) == 0 {
		return drafts
	}
	for _, id := range ids {
		r := rs.Rule(id)
		switch {
		case r == nil:
			out.Errorf("no-draft", diag.Span{}, "there is no rule %q to be made active", id).Nearest = diag.Nearest(id, ruleIDs(drafts))
		case r.Status != Draft:
			out.Errorf("no-draft", r.Origin.Span, "the rule %q is %s, and only a draft is made active", id, r.Status)
		default:
			chosen = append(chosen, r)
		}
	}
	return chosen
}

func ruleIDs(list []*Rule) []string { return ids(list, func(r *Rule) string { return r.ID }) }

// put gives a key another text. The tree that was read stays as it is.
func (s *sheet) put(key, text string) {
	n := *s.Node
	n.Entries = slices.Clone(n.Entries)
	for i, e := range n.Entries {
		if e.Key.Text == key && e.Value.Kind == doc.Scalar {
			value := *e.Value
			value.Text = text
			n.Entries[i].Value = &value
		}
	}
	s.Node = &n
}

// drop takes a key away.
func (s *sheet) drop(key string) {
	s.Node = without(s.Node, key)
}
