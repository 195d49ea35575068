package load_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"whystone/kb/eval"
	"whystone/kb/load"
	"whystone/kb/load/loadtest"
	"whystone/kb/logic"
)

// byDensity is a table of four rows; its house and figures are invented.
const byDensity = `format: 1
tables:
  - table: by-density
    says: Density parts the light from the heavy.
    source: common practice
    family: density
    tags: [bench]
    columns: [specific_gravity, facet_doubling, inclusions, stone.wet, claim, high_index]
    rows:
      - {row: light, specific_gravity: 2.6 to 2.70, facet_doubling: slight, supports: {materials: [quartz], strength: weak}}
      - row: either
        says: Its own words.
        specific_gravity: [below 2.5, from 3.5]
        facet_doubling: [none, strong]
        inclusions: [gas bubbles, feather]
        stone.wet: false
        claim: [diamond, rhinestone]
        high_index: true
        excludes: quartz
        tags: []
        examples: [{readings: {ri: 1.5}, is: undecided}]
      - {row: features, inclusions: [feather, needles], stone.wet: any, cautions: Look again.}
      - {row: always, cautions: Always.}
      - {row: dry, stone.wet: true, claim: 'a "fine" \ stone', cautions: Dry it., since: 2031-01-01, author: h}
`

// byHand is the same rules, as a person would write them.
const byHand = `format: 1
rules:
  - rule: by-density-light
    says: Density parts the light from the heavy.
    source: common practice
    family: density
    tags: [bench]
    if: 2.6 <= specific_gravity < 2.70 and facet_doubling == "slight"
    supports: {materials: [quartz], strength: weak}
  - rule: by-density-either
    says: Its own words.
    source: common practice
    family: density
    tags: []
    if: (specific_gravity < 2.5 or specific_gravity >= 3.5) and facet_doubling in ["none", "strong"] and ("gas bubbles" in inclusions or "feather" in inclusions) and not stone.wet and claim in ["diamond", "rhinestone"] and high_index
    excludes: quartz
    examples: [{readings: {ri: 1.5}, is: undecided}]
  - rule: by-density-features
    says: Density parts the light from the heavy.
    source: common practice
    family: density
    tags: [bench]
    if: '"feather" in inclusions or "needles" in inclusions'
    cautions: Look again.
  - rule: by-density-always
    says: Density parts the light from the heavy.
    source: common practice
    family: density
    tags: [bench]
    cautions: Always.
  - rule: by-density-dry
    says: Density parts the light from the heavy.
    source: common practice
    family: density
    tags: [bench]
    if: stone.wet and claim == "a \"fine\" \\ stone"
    cautions: Dry it.
    since: 2031-01-01
    author: h
`

// TestTableIsItsRules: a table and the same rules written by hand are the same ruleset, digest included.
func TestTableIsItsRules(t *testing.T) {
	table, hand := loadtest.Must(t, map[string]string{"t.yaml": byDensity}),
		loadtest.Must(t, map[string]string{"t.yaml": byHand})
	for _, r := range hand.Rules {
		if d := cmp.Diff(writtenRule(hand, r.ID), writtenRule(table, r.ID)); d != "" {
			t.Error(d)
		}
	}
	if d := cmp.Diff(dump(t, hand), dump(t, table)); d != "" {
		t.Error(d)
	}
	if len(hand.Tables) != 0 || hand.Rule("by-density-light").Table != nil {
		t.Error("rules written by hand make a table")
	}
}

// TestTableIsKept: what a table is stays to be seen, with its places.
func TestTableIsKept(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"t.yaml": byDensity})
	tab := rs.Table("by-density")
	if tab == nil || len(rs.Tables) != 1 || tab.Source != "common practice" ||
		tab.Place.Span.String() != "house/t.yaml:3:12" || tab.Place.Layer != "house" {
		t.Fatalf("%+v", tab)
	}
	var columns []string
	for _, c := range tab.Columns {
		columns = append(columns, c.Name+" "+c.Kind.String()+" "+c.Span.Text())
		if rs.Scope.At(c.Slot).Name != c.Name {
			t.Errorf("the slot of %s", c.Name)
		}
	}
	want := []string{"specific_gravity quantity specific_gravity", "facet_doubling choice facet_doubling",
		"inclusions features inclusions", "stone.wet truth stone.wet", "claim text claim",
		"high_index truth high_index"}
	if d := cmp.Diff(want, columns); d != "" {
		t.Error(d)
	}
	var rows []string
	for _, r := range tab.Rows {
		line := r.Name + " " + r.Rule.ID + " " + r.Rule.Place.Span.String()
		for _, c := range r.Cells {
			line += " | " + c.Text
			if (c.Text == "any") != (c.If == nil) {
				t.Errorf("%s: the condition of the cell %q", r.Name, c.Text)
			}
			if c.If != nil && c.Span.Text() == "" {
				t.Errorf("%s: no place", r.Name)
			}
		}
		if r.Rule != rs.Rule(r.Rule.ID) || r.Rule.Table != tab || r.Rule.Row != r.Name {
			t.Errorf("%s is not the rule of its id", r.Name)
		}
		rows = append(rows, line)
	}
	want = []string{
		"light by-density-light house/t.yaml:10:15 | 2.6 to 2.70 | slight | any | any | any | any",
		"either by-density-either house/t.yaml:11:14 | below 2.5; from 3.5 | none; strong | gas bubbles; feather | " +
			"false | diamond; rhinestone | true",
		"features by-density-features house/t.yaml:22:15 | any | any | feather; needles | any | any | any",
		"always by-density-always house/t.yaml:23:15 | any | any | any | any | any | any",
		`dry by-density-dry house/t.yaml:24:15 | any | any | any | true | a "fine" \ stone | any`,
	}
	if d := cmp.Diff(want, rows); d != "" {
		t.Error(d)
	}
	if c := tab.Rows[1].Cells[0].If; c.Text != "specific_gravity < 2.5 or specific_gravity >= 3.5" {
		t.Errorf("a cell is %q", c.Text)
	}
	if rs.Rule("by-density-always").If != nil {
		t.Error("a row of which every cell is any has a condition")
	}
}

// TestPartsOfARow: places in a row's condition lead into its cells.
func TestPartsOfARow(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"t.yaml": byDensity})
	for _, tt := range []struct{ rule, part, place, text string }{
		{"light", "2.6", "house/t.yaml:10:40", "2.6"},
		{"light", "2.70", "house/t.yaml:10:47", "2.70"},
		{"light", "2.6 <= specific_gravity < 2.70", "house/t.yaml:10:40", "2.6 to 2.70"},
		{"light", "specific_gravity", "house/t.yaml:10:40", "2.6 to 2.70"},
		{"light", `facet_doubling == "slight"`, "house/t.yaml:10:69", "slight"},
		{"either", `"strong"`, "house/t.yaml:14:32", "strong"},
		{"either", "specific_gravity >= 3.5", "house/t.yaml:13:39", "from 3.5"},
		{"either", "not stone.wet", "house/t.yaml:16:20", "false"},
	} {
		r := rs.Rule("by-density-" + tt.rule)
		start := strings.Index(r.If.Text, tt.part)
		sp := r.Part("if", start, start+len(tt.part))
		if sp.String() != tt.place || sp.Text() != tt.text {
			t.Errorf("%s of %s stands at %s: %q", tt.part, tt.rule, sp, sp.Text())
		}
	}
}

// TestCellsHold: what cells mean for readings at their ends. x to y has x and not y, so that neighbours meet.
func TestCellsHold(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"t.yaml": `format: 1
tables:
  - table: cells
    says: x
    columns: [stake, facet_doubling]
    rows:
      - {row: below, stake: below 100, cautions: x}
      - {row: within, stake: 100 to 200, cautions: x}
      - {row: next, stake: 200 to 300, cautions: x}
      - {row: from, stake: from 300, cautions: x}
      - {row: above, stake: above 300, cautions: x}
      - {row: either, stake: [below 100, 200 to 300], facet_doubling: [none, slight], cautions: x}
`})
	run := eval.New(rs)
	for text, holds := range map[string]string{
		"stake: 99":     "below",
		"stake: 100":    "within",
		"stake: 199.99": "within",
		"stake: 200":    "next",
		"stake: 300":    "from",
		"stake: 301":    "above from",
		"stake: 250, readings: {facet_doubling: none}":   "either next",
		"stake: 50, readings: {facet_doubling: strong}":  "below",
		"stake: 250, readings: {facet_doubling: weak}":   "either next",
		"stake: 150, readings: {facet_doubling: slight}": "within",
	} {
		run.Do(loadtest.Case(t, rs, strings.ReplaceAll(strings.ReplaceAll(text, ", readings", "\nreadings"), ", stone",
			"\nstone")), loadtest.Day)
		var got []string
		for _, r := range rs.Rules {
			if name, ok := strings.CutPrefix(r.ID, "cells-"); ok && run.Rules[r.Turn] == logic.Holds {
				got = append(got, name)
			}
		}
		if strings.Join(got, " ") != holds {
			t.Errorf("with %s %q hold, not %q", text, got, holds)
		}
	}
}

// TestTableLayers: a layer replaces or retires a table with all its rows, or one row's rule.
func TestTableLayers(t *testing.T) {
	lower := loadtest.Small(t, map[string]string{"t.yaml": `format: 1
tables:
  - {table: one, says: x, columns: [ri], rows: [{row: a, ri: above 1.5, cautions: a}, {row: b, ri: above 1.6, cautions: b}, {row: c, cautions: c}]}
  - {table: two, says: x, columns: [ri], rows: [{row: a, cautions: a}, {row: b, cautions: b}]}
  - {table: three, says: x, columns: [ri], rows: [{row: a, cautions: a}, {row: b, cautions: b}]}
`})
	rs, out := load.Load(t.Context(), loadtest.Stack(lower, map[string]string{"house.yaml": `format: 1
tables:
  - {table: one, says: y, columns: [ri], replaces: one, because: Ours., rows: [{row: b, ri: above 1.7, cautions: ours}, {row: d, cautions: d}]}
rules:
  - {rule: own-b, says: y, cautions: z, replaces: three-b, because: Better.}
retires:
  - {table: two, because: Never.}
  - {rule: three-a, because: Not here.}
`}))
	if rs == nil || len(out) > 0 {
		t.Fatal(loadtest.Render(t, out))
	}
	var rules []string
	for _, id := range rs.RuleIDs() {
		if rs.Test(id) == nil && (strings.HasPrefix(id, "one-") || strings.HasPrefix(id, "two-") ||
			strings.HasPrefix(id, "three-") || id == "own-b") {
			rules = append(rules, id)
		}
	}
	if d := cmp.Diff([]string{"one-b", "one-d", "own-b"}, rules); d != "" {
		t.Error(d)
	}
	b := rs.Rule("one-b")
	if b.Place.Replaces != "one-b" || b.Place.Because != "Ours." || b.Cautions[0] != "ours" ||
		rs.Rule("one-d").Place.Replaces != "" {
		t.Errorf("%+v", b.Place)
	}
	if rs.Table("two") != nil || len(rs.Table("three").Rows) != 0 || len(rs.Table("one").Rows) != 2 ||
		rs.Table("one").Place.Replaces != "one" {
		t.Error("the tables that are left")
	}
	if len(rs.Retired) != 2 || rs.Retired[1].Kind != "table" || rs.Retired[1].ID != "two" {
		t.Errorf("%v", rs.Retired)
	}
	// By hand the same: what stands in for a row says so.
	hand, out := load.Load(t.Context(), loadtest.Stack(lower, map[string]string{"house.yaml": `format: 1
rules:
  - {rule: one-b, says: y, if: ri > 1.7, cautions: ours, replaces: one-b, because: Ours.}
  - {rule: one-d, says: y, cautions: d}
  - {rule: own-b, says: y, cautions: z, replaces: three-b, because: Better.}
retires:
  - {table: two, because: Never.}
  - {rule: three-a, because: x}
  - {rule: one-a, because: x}
  - {rule: one-c, because: x}
`}))
	if hand == nil || hand.Digest != rs.Digest {
		t.Errorf("by hand it is another ruleset: %v", out)
	}
}

// TestTableLayersRefused: ids of rows are as unique as any.
func TestTableLayersRefused(t *testing.T) {
	lower := loadtest.Small(t, map[string]string{"t.yaml": `format: 1
tables:
  - {table: one, says: x, columns: [ri], rows: [{row: a, cautions: a}, {row: b, cautions: b}]}
`})
	for name, tt := range map[string]struct{ text, code, says string }{
		"a table again": {"tables: [{table: one, says: x, columns: [ri], rows: [{row: c, cautions: c}]}]",
			"duplicate-id", `the table "one" exists in the layer small`},
		"a row by hand": {"rules: [{rule: one-a, says: x, cautions: x}]", "duplicate-id",
			`the rule "one-a" exists in the layer small`},
		"replaced without a reason": {"tables: [{table: one, says: x, columns: [ri], replaces: one, rows: [{row: " +
			"a, cautions: c}]}]", "missing-key", "say because"},
		"replaces nothing": {"tables: [{table: un, says: x, columns: [ri], replaces: onee, because: y, " +
			"rows: [{row: a, cautions: c}]}]", "replaces-nothing", `no lower layer has a table "onee"`},
		"retires nothing": {"retires: [{table: onee, because: y}]", "replaces-nothing",
			`no lower layer has a table "onee"`},
		"another table, an old row": {"tables: [{table: one-a, says: x, columns: [ri], rows: [{row: c, cautions: " +
			"c}]}]", "duplicate-id", `the table "one-a" has the id of a rule`},
		"a row that another has": {"tables: [{table: one, says: x, columns: [ri], replaces: one, because: y, " +
			"rows: [{row: a-b, cautions: c}]}, {table: one-a, says: x, columns: [ri], rows: [{row: b, cautions: c}]}]",
			"duplicate-id", `the rule "one-a-b", a row of the table "one-a"`},
		"a row whose rule is retired": {"tables: [{table: one, says: x, columns: [ri], replaces: one, because: y, " +
			"rows: [{row: a, cautions: c}]}]\nretires: [{rule: one-a, because: y}]", "replaces-nothing", "one-a"},
	} {
		t.Run(name, func(t *testing.T) {
			rs, out := load.Load(t.Context(),
				loadtest.Stack(lower, map[string]string{"house.yaml": "format: 1\n" + tt.text + "\n"}))
			if rs != nil || len(out) != 1 || string(out[0].Code) != tt.code ||
				!strings.Contains(out[0].Summary, tt.says) {
				t.Error(loadtest.Render(t, out))
			}
		})
	}
}

// TestTablesInAnyFile: which file a table or its rows stand in, and in what order, changes nothing.
func TestTablesInAnyFile(t *testing.T) {
	one := `{table: one, says: x, columns: [ri], rows: [{row: a, ri: above 1.5, cautions: a}, {row: b, cautions: b}]}`
	two := `{table: two, says: x, columns: [ri], rows: [{row: b, cautions: b}, {row: a, ri: above 1.5, cautions: a}]}`
	first := loadtest.Must(t, map[string]string{"a.yaml": "format: 1\ntables: [" + one + ", " + two + "]\n"})
	second := loadtest.Must(t, map[string]string{"b/b.yaml": "format: 1\ntables: [" + two + "]\n",
		"c.yaml": "format: 1\ntables: [" + one + "]\n"})
	if first.Digest != second.Digest || len(second.Tables) != 2 || second.Tables[0].ID != "one" {
		t.Error("the order of files matters")
	}
}

// TestNeverAColumn: a key of every row can't be taken for a column.
func TestNeverAColumn(t *testing.T) {
	for _, key := range []string{"row", "rule", "if", "unless", "says", "supports", "note"} {
		_, out := loadtest.House(t, map[string]string{"t.yaml": "format: 1\ntables: [{table: t, says: x, columns: [" +
			key + "], rows: [{row: a, cautions: x}]}]\n"})
		if len(out) != 1 || out[0].Code != "not-allowed" || out[0].Span.Text() != key {
			t.Errorf("%s: %s", key, loadtest.Render(t, out))
		}
	}
}
