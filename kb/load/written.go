package load

import (
	"bufio"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strconv"
	"strings"

	"github.com/gowebpki/jcs"

	"whystone/kb"
	"whystone/kb/syntax"
)

// digest names the ruleset: SHA-256 over the canonical JSON (RFC 8785) of what is left after layering, each list sorted
// by id. Texts and sources are part of it; comments, positions, file names and the order of files are not.
func (st *stacked) digest() (string, error) {
	parts := st.said()
	sum := sha256.New()
	if slices.ContainsFunc(parts, beyond16) {
		text, err := jcs.Transform([]byte(strings.Join(parts, "")))
		if err != nil {
			return "", err
		}
		parts = []string{string(text)}
	}
	w := bufio.NewWriter(sum)
	for _, part := range parts {
		_, _ = w.WriteString(part) // a hash takes all
	}
	_ = w.Flush()
	return "sha256:" + hex.EncodeToString(sum.Sum(nil)), nil
}

// said is all that is left after layering, as [written] writes it, in parts. What there was none of once is left out
// where there is none, so that what says none has the digest that it had then. Rows of tables are among the rules.
func (st *stacked) said() []string {
	parts, before := []string{}, "{"
	say := func(key string, value ...string) {
		parts = append(append(parts, before, strconv.Quote(key), ":"), value...)
		before = ","
	}
	list := func(key string, sheets []*sheet) {
		say(key, "[")
		for i, s := range sheets {
			if i > 0 {
				parts = append(parts, ",")
			}
			parts = append(parts, s.written())
		}
		parts = append(parts, "]")
	}
	var away []*sheet
	for _, s := range st.ordered(kb.RuleSheet) {
		if s.away != nil {
			away = append(away, s.away)
		}
	}
	if defined := st.ordered(kb.DefineSheet); len(defined) > 0 {
		list("definitions", defined)
	}
	say("format", "1")
	list("materials", st.ordered(kb.MaterialSheet))
	say("method", strconv.Itoa(kb.ArithmeticVersion))
	say("policy", written(st.policy.node))
	if len(away) > 0 {
		list("retires", away)
	}
	list("rules", st.ordered(kb.RuleSheet))
	list("tests", st.ordered(kb.TestSheet))
	return append(parts, "}")
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
	for _, n := range retiring(roots) {
		if e := entryOf(n, "rule", "material", "test", "table", "define"); e.Value != nil {
			note(kb.SheetKind(e.Key.Text), e.Key, e.Value.Text, written(n), true)
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
