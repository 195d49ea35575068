package load

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"slices"
	"strconv"

	"github.com/gowebpki/jcs"

	"whystone/kb"
	"whystone/kb/syntax"
)

// digest names the ruleset: SHA-256 over the canonical JSON (RFC 8785) of what is left after layering, each list sorted
// by id. Texts and sources are part of it; comments, positions, file names and the order of files are not.
func (st *stacked) digest() (string, error) {
	content := map[string]any{"format": 1, "method": kb.ArithmeticVersion, "policy": plain(st.policy.node)}
	for _, k := range kinds {
		if k.kind == "table" {
			continue // its rows are among the rules
		}
		if k.kind == kb.DefineSheet && len(st.sheets[k.kind]) == 0 {
			continue // so that what says none has the digest that it had before there were any
		}
		list := []json.RawMessage{}
		for _, s := range st.ordered(k.kind) {
			list = append(list, json.RawMessage(s.written()))
		}
		content[k.top] = list
	}
	away := []json.RawMessage{}
	for _, s := range st.ordered(kb.RuleSheet) {
		if s.away != nil {
			away = append(away, json.RawMessage(written(s.away.Node)))
		}
	}
	if len(away) > 0 {
		content["retires"] = away
	}
	raw, err := json.Marshal(content)
	if err != nil {
		return "", err
	}
	canonical, err := jcs.Transform(raw)
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(canonical)
	return "sha256:" + hex.EncodeToString(sum[:]), nil
}

// written is a document tree as JSON with sorted keys.
func written(n *syntax.Node) string {
	text, _ := json.Marshal(plain(n)) // texts, numbers and truths only
	return string(text)
}

// plain is a document tree without places: what the text says, however it is written.
func plain(n *syntax.Node) any {
	if n.IsNull() {
		return nil
	}
	switch n.Kind {
	case syntax.Map:
		out := map[string]any{}
		for _, e := range n.Entries {
			out[e.Key.Text] = plain(e.Value)
		}
		return out
	case syntax.List:
		out := []any{}
		for _, it := range n.Items {
			out = append(out, plain(it))
		}
		return out
	}
	if n.Style == syntax.Plain || n.Style == syntax.JSONWord || n.Style == syntax.JSONNumber {
		switch n.Text {
		case "true":
			return true
		case "false":
			return false
		}
		if x, err := strconv.ParseFloat(n.Text, 64); err == nil && x-x == 0 {
			return x
		}
	}
	return n.Text
}

// index notes the sheets of one layer as its files say them. What rows of tables are is known later.
func (st *stacked) index(layer string, own map[kb.SheetKind]map[string]*sheet, roots []*syntax.Node,
	policy *syntax.Node) {
	note := func(kind kb.SheetKind, key *syntax.Node, id, written string, retires bool) {
		st.written = append(st.written, kb.Sheet{Kind: kind, ID: id, Layer: layer, Retires: retires, Span: key.Span,
			Written: written})
	}
	for _, k := range kinds {
		for id, s := range own[k.kind] {
			if e := entryOf(s.Node, string(k.kind), "group"); k.kind == "table" {
				note(kb.SheetKind(e.Key.Text), e.Key, id, written(without(s.Node, "rows")), false)
			} else {
				note(kb.SheetKind(e.Key.Text), e.Key, id, s.written(), false)
			}
		}
	}
	for _, root := range roots {
		list := root.Get("retires")
		if list == nil {
			continue
		}
		for _, n := range list.Items {
			if e := entryOf(n, "rule", "material", "test", "table", "define"); e.Value != nil {
				note(kb.SheetKind(e.Key.Text), e.Key, e.Value.Text, written(n), true)
			}
		}
	}
	if policy == nil {
		return
	}
	for _, e := range policy.Entries {
		note(kb.PolicySheet, e.Key, e.Key.Text, written(e.Value), false)
	}
}

// entryOf is the first entry of a map that has one of these keys.
func entryOf(n *syntax.Node, keys ...string) syntax.Entry {
	for _, e := range n.Entries {
		if slices.Contains(keys, e.Key.Text) {
			return e
		}
	}
	return syntax.Entry{}
}

// without is a map without a key. The tree that was read stays as it is.
func without(n *syntax.Node, key string) *syntax.Node {
	out := *n
	out.Entries = slices.DeleteFunc(slices.Clone(n.Entries), func(e syntax.Entry) bool { return e.Key.Text == key })
	return &out
}

// sheets is the index of all that was read, with the rules that rows of tables became.
func (st *stacked) sheetIndex(rs *kb.Ruleset, at map[*kb.Rule]*sheet) []kb.Sheet {
	for _, t := range rs.Tables {
		for _, row := range t.Rows {
			s := at[row.Rule]
			st.written = append(st.written, kb.Sheet{Kind: kb.RuleSheet, ID: s.id, Layer: s.layer, Span: s.place.Span,
				Written: s.written()})
		}
	}
	slices.SortStableFunc(st.written, func(a, b kb.Sheet) int {
		return cmp.Or(cmp.Compare(a.Kind, b.Kind),
			cmp.Compare(a.ID, b.ID))
	})
	return st.written
}
