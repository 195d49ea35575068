package load

import (
	"slices"
	"strings"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/syntax"
)

// others reads which members a group has that no sheet is of: one leaf for each origin that the group says, with the
// figures that the group's sheet gives or inherits. No other sheet, rule or claim can name such a leaf; verdicts name
// its group.
func (t *tree) others(s *sheet, m *kb.Material) {
	v := s.Get("others")
	if v.IsNull() {
		return
	}
	if !m.Group {
		s.errorf(diag.NotAllowed, v, "only a group has others; %q is a material", m.ID)
		return
	}
	for _, needed := range []string{"ri", "specific_gravity"} {
		if m.Ranges[needed] == nil && !s.Get("properties").Misspells(needed, sortedKeys(m.Ranges)...) {
			s.errorf(diag.MissingKey, v, "the sheet of %q gives no %s, which its others would need", m.ID, needed).
				Detail = "A member without a sheet of its own has the figures of its group, and fits almost any " +
				"stone if these say nothing."
		}
	}
	items, _ := v.List(s.out)
	for _, it := range items {
		if it.Keys(s.out, "origin", "seen_at_counter", "note") {
			t.other(s, m, it)
		}
	}
}

func (t *tree) other(s *sheet, group *kb.Material, n *syntax.Node) {
	if !s.has(n, "origin", "these others of %q have no origin: %s", group.ID, strings.Join(texts(kb.Origins), ", ")) {
		return
	}
	from := oneOf(s, n, "origin", "", kb.Origins...)
	if from == "" {
		return
	}
	same := func(o *kb.Material) bool { return o.Origin == from }
	if i := slices.IndexFunc(group.Others, same); i >= 0 {
		s.errorf(diag.GivenTwice, n, "the %s others of %q are there twice", from, group.ID).
			Related = []diag.Related{{Span: group.Others[i].Place.Span, Says: "here first"}}
		return
	}
	own := &sheet{Node: n, id: group.ID + ":" + string(from), layer: s.layer, out: s.out,
		place: kb.Place{Layer: s.layer, Span: n.Span}}
	m := &kb.Material{ID: own.id, Name: "other " + string(from) + " " + group.Name, Index: -1, Other: true,
		Origin: from, Counter: own.counter(t.policy), Parent: group, Ranges: map[string]*kb.Range{},
		Choices: map[string]*kb.Frequencies{}, Features: map[string]*kb.Frequencies{}, Place: own.place}
	group.Others, t.at[m] = append(group.Others, m), own
}

// onlyListed is the topmost node from m upwards that has no listed leaf but m.
func onlyListed(rs *kb.Ruleset, m *kb.Material) *kb.Material {
	for m.Parent != nil {
		for _, i := range m.Parent.Leaves {
			if l := rs.Leaves[i]; !l.Other && !l.Under(m) {
				return m
			}
		}
		m = m.Parent
	}
	return m
}
