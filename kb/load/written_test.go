package load_test

import (
	"fmt"
	"testing"

	"github.com/google/go-cmp/cmp"

	"whystone/kb/load/loadtest"
)

// TestSheetIndex: each layer's sheets are listed by kind and id, be they replaced, retired or rows of tables, with the
// place of the key before the id, wherever that stands in the sheet.
func TestSheetIndex(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"house.yaml": `format: 1
policy: {currency: GBP}
rules:
  - {says: Ours., rule: over-the-limit, if: ri > 1.8, establishes: {high_index: true}, replaces: over-the-limit, because: Our scale ends there.}
tables: [{table: t, says: x, columns: [ri], rows: [{row: a, ri: above 2, cautions: x}]}]
retires: [{because: We dry stones., rule: wet-stone}]
`})
	var got []string
	for _, s := range rs.Sheets {
		if s.Layer == "house" || s.ID == "over-the-limit" || s.ID == "glass" {
			got = append(got, fmt.Sprint(s.Layer, " ", s.Kind, " ", s.ID, " ", s.Retires, " ", s.Span))
		}
	}
	want := []string{
		"small group glass false small/materials.yaml:33:5",
		"house policy currency false house/house.yaml:2:10",
		"small rule over-the-limit false small/rules.yaml:12:5",
		"house rule over-the-limit false house/house.yaml:4:19",
		"house rule t-a false house/house.yaml:5:58",
		"house rule wet-stone true house/house.yaml:6:37",
		"house table t false house/house.yaml:5:11",
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

// TestWrittenIsTheSame: what a sheet says does not depend on how it is laid out, and a table's not on its rows.
func TestWrittenIsTheSame(t *testing.T) {
	written := func(text string) map[string]string {
		out := map[string]string{}
		for _, s := range loadtest.Must(t, map[string]string{"house.yaml": "format: 1\n" + text}).Sheets {
			if s.Layer == "house" {
				out[string(s.Kind)+" "+s.ID] = s.Written
			}
		}
		return out
	}
	a := written("rules: [{rule: r, says: x, if: ri > 1, cautions: [x]}]\ntables: [{table: t, says: x, columns: " +
		"[ri], rows: [{row: a, ri: above 2, cautions: x}]}]\n")
	b := written("tables:\n  - columns: [ri]\n    table: t\n    says: \"x\"\n    rows: [{row: a, ri: above 2.1, " +
		"cautions: x}]\n" +
		"rules: # here\n  - says: x\n    cautions: [\"x\"]\n    rule: r\n    if: 'ri > 1'\n")
	for key, same := range map[string]bool{"rule r": true, "table t": true, "rule t-a": false} {
		if a[key] == "" || (a[key] == b[key]) != same {
			t.Errorf("%s: %s and %s", key, a[key], b[key])
		}
	}
}

// TestWhereKeysStand: a rule knows where it says what it says; what it leaves out, or leaves empty, is told of its id.
func TestWhereKeysStand(t *testing.T) {
	r := loadtest.WithRules(t, "  - {rule: r, says: x, if: ri > 1, note: , cautions: [x, y], supports: {materials: "+
		"[glass], ratio: 2}}\n").Rule("r")
	for key, want := range map[string]string{"if": "ri > 1", "cautions": "[x, y]",
		"supports": "{materials: [glass], ratio: 2}", "note": "r", "weakens": "r", "rule": "r"} {
		if got := r.At(key); got.Text() != want {
			t.Errorf("%s: %q at %s", key, got.Text(), got)
		}
	}
}
