package load

import (
	"cmp"
	"slices"

	"whystone/kb"
	"whystone/kb/doc"
)

// index notes the sheets of one layer as its files say them. What rows of tables are is known later.
func (st *stacked) index(layer string, own map[string]map[string]*sheet, roots []*doc.Node, policy *doc.Node) {
	note := func(kind string, key *doc.Node, id, written string, retires bool) {
		st.written = append(st.written, kb.Sheet{Kind: kb.SheetKind(kind), ID: id, Layer: layer, Retires: retires, Span: key.Span, Written: written})
	}
	for _, k := range kinds {
		for id, s := range own[k.kind] {
			if e := entryOf(s.Node, k.kind, "group"); k.kind == "table" {
				note(e.Key.Text, e.Key, id, written(without(s.Node, "rows")), false)
			} else {
				note(e.Key.Text, e.Key, id, s.written(), false)
			}
		}
	}
	for _, root := range roots {
		list := root.Get("retires")
		if list == nil {
			continue
		}
		for _, n := range list.Items {
			if e := entryOf(n, "rule", "material", "test", "table"); e.Value != nil {
				note(e.Key.Text, e.Key, e.Value.Text, written(n), true)
			}
		}
	}
	if policy == nil {
		return
	}
	for _, e := range policy.Entries {
		note(string(kb.PolicySheet), e.Key, e.Key.Text, written(e.Value), false)
	}
}

// entryOf is the first entry of a map that has one of these keys.
func entryOf(n *doc.Node, keys ...string) doc.Entry {
	for _, e := range n.Entries {
		if slices.Contains(keys, e.Key.Text) {
			return e
		}
	}
	return doc.Entry{}
}

// without is a map without a key. The tree that was read stays as it is.
func without(n *doc.Node, key string) *doc.Node {
	out := *n
	out.Entries = slices.DeleteFunc(slices.Clone(n.Entries), func(e doc.Entry) bool { return e.Key.Text == key })
	return &out
}

// sheets is the index of all that was read, with the rules that rows of tables became.
func (st *stacked) sheetIndex(rs *kb.Ruleset, at map[*kb.Rule]*sheet) []kb.Sheet {
	for _, t := range rs.Tables {
		for _, row := range t.Rows {
			s := at[row.Rule]
			st.written = append(st.written, kb.Sheet{Kind: kb.RuleSheet, ID: s.id, Layer: s.layer, Span: s.origin.Span, Written: s.written()})
		}
	}
	slices.SortStableFunc(st.written, func(a, b kb.Sheet) int { return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.ID, b.ID)) })
	return st.written
}
