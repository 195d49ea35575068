package load

import (
	"whystone/kb"
	"whystone/kb/diag"
)

// amend lays what a sheet says over the sheet of a lower layer with the same id, key by key, lists whole, as layers of
// a policy are laid: what it leaves out stays. "amends" gives the reason.
func (st *stacked) amend(s *sheet, kind kb.SheetKind, below *sheet) bool {
	key := s.Get("amends")
	switch {
	case kind != kb.MaterialSheet && kind != kb.TestSheet:
		s.errorf(diag.NotAllowed, key, "a %s is replaced as a whole; a material or a test may be amended", kind)
		return false
	case s.place.Replaces != "":
		s.errorf(diag.GivenTwice, key, "a sheet replaces another as a whole or amends it, not both")
		return false
	case below == nil || below.layer == s.layer:
		_ = st.noneBelow(s, key, kind, s.id)
		return false
	case below.isGroup() != s.isGroup():
		s.errorf(diag.UnlikeTypes, s.Node, "%q is a group in one layer and a material in another", s.id).
			Related = []diag.Related{{Span: below.place.Span, Says: "the lower layer's"}}
		return false
	}
	s.text(s.Node, "amends") // it must be a text
	s.Node = mergeMaps(below.Node, without(s.Node, "amends"))
	return true
}

func (s *sheet) isGroup() bool { return !s.Get("group").IsNull() }
