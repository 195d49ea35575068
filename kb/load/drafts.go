package load

import (
	"slices"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/syntax"
)

// WithDrafts is the same ruleset with these drafts active, or all of them when none is named. It is built anew from the
// same files, read as if they said "status: active" there, and has the digest of files that do. A draft's "since" says
// when it is to begin, which is seldom before the cases that one has to try it on, so that the files are read as if
// they didn't say it; an "until" still counts. What keeps a draft from being active (facts in a circle, say) is told in
// the list, and the result is nil then. A ruleset without drafts comes back as it is when none is named.
func WithDrafts(rs *kb.Ruleset, ids ...string) (*kb.Ruleset, diag.List) {
	var out diag.List
	drafts := draftsOf(rs, ids, &out)
	switch {
	case out.HasErrors():
		return nil, out
	case len(drafts) == 0:
		return rs, nil
	}
	return build(rs.Files, func(s *sheet) {
		if slices.ContainsFunc(drafts, func(r *kb.Rule) bool { return r.Place.Span == s.place.Span }) {
			s.put("status", string(kb.Active))
			s.Node = without(s.Node, "since")
		}
	})
}

// draftsOf are the drafts that are meant, all when none is named. What is no draft is reported.
func draftsOf(rs *kb.Ruleset, ids []string, out *diag.List) (chosen []*kb.Rule) {
	drafts := rs.Drafts()
	if len(ids) == 0 {
		return drafts
	}
	known := english.Each(drafts, func(d *kb.Rule) string { return d.ID })
	for _, id := range ids {
		r := rs.Rule(id)
		switch {
		case r == nil:
			out.Errorf(diag.NoDraft, diag.Span{}, "there is no rule %q to be made active",
				id).Nearest = diag.Nearest(id, known)
		case r.Status != kb.Draft:
			out.Errorf(diag.NoDraft, r.Place.Span, "the rule %q is %s, and only a draft is made active", id, r.Status)
		default:
			chosen = append(chosen, r)
		}
	}
	return chosen
}

// put gives a key another text. The tree that was read stays as it is.
func (s *sheet) put(key, text string) {
	n := *s.Node
	n.Entries = slices.Clone(n.Entries)
	for i, e := range n.Entries {
		if e.Key.Text == key && e.Value.Kind == syntax.Scalar {
			value := *e.Value
			value.Text = text
			n.Entries[i].Value = &value
		}
	}
	s.Node = &n
}
