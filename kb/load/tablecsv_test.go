package load_test

import (
	"strconv"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/google/go-cmp/cmp"

	"whystone/kb/diag"
	"whystone/kb/load"
	"whystone/kb/load/loadtest"
)

// csvTable is the head of a table whose rows stand in a file beside it.
const csvTable = `format: 1
tables:
  - table: by-density
    says: Density parts the light from the heavy.
    source: common practice
    columns: [specific_gravity, facet_doubling, inclusions, stone.wet]
    rows_from: rows.csv
`

const csvRows = `row,specific_gravity,facet_doubling,inclusions,stone.wet,supports,weakens,ratio,excludes,sets_aside,calls_for,forbids,cautions,sends_on,establishes,says,unless,family,backed_by,status,since,until,author,reviewed_by,note,tags
light,2.6 to 2.7,slight; strong,,FALSE,quartz,diamond; lead-glass,4,,,,,,,,,,density,,,,,,,,
words,any,none,"feather;gas bubbles",,,,,ordinary-glass,,,,,,,"Its ""own"" words, in quotes.",ri > 1.6,double refraction,,,,,,,,
 rest , ,,,,,,,,thermal_probe;breath_fog,weighing,probe; eye,"Be careful; look
twice.",To a laboratory.,"cautioned; heft_word = light",,,,a figure,draft,2031-01-01,2032-01-01,h,q,n,a; b
,,,,,,,,,,,,,,,,,,,,,,,,,
`

const csvByHand = `format: 1
rules:
  - rule: by-density-light
    says: Density parts the light from the heavy.
    source: common practice
    if: 2.6 <= specific_gravity < 2.7 and facet_doubling in ["slight", "strong"] and not stone.wet
    supports: {materials: [quartz], ratio: 4}
    weakens: {materials: [diamond, lead-glass], ratio: 4}
    family: density
  - rule: by-density-words
    says: Its "own" words, in quotes.
    source: common practice
    if: facet_doubling == "none" and ("feather" in inclusions or "gas bubbles" in inclusions)
    unless: ri > 1.6
    excludes: [ordinary-glass]
    family: double refraction
  - rule: by-density-rest
    says: Density parts the light from the heavy.
    source: common practice
    sets_aside: [thermal_probe, breath_fog]
    calls_for: [weighing]
    forbids: [probe, eye]
    cautions: "Be careful; look\ntwice."
    sends_on: To a laboratory.
    establishes: {cautioned: true, heft_word: light}
    backed_by: a figure
    status: draft
    since: 2031-01-01
    until: 2032-01-01
    author: h
    reviewed_by: q
    note: n
    tags: [a, b]
`

// TestFieldsAreRules: rows of a CSV file are the rules that a person would have written, whatever the line ends.
func TestFieldsAreRules(t *testing.T) {
	hand := loadtest.Must(t, map[string]string{"r.yaml": csvByHand})
	for name, text := range map[string]string{"as it is": csvRows, "CRLF": strings.ReplaceAll(csvRows, "\n", "\r\n"),
		"byte order mark": "\uFEFF" + csvRows, "no end": strings.TrimSuffix(csvRows, "\n")} {
		t.Run(name, func(t *testing.T) {
			rs := loadtest.Must(t, map[string]string{"deep/t.yaml": csvTable, "deep/rows.csv": text})
			for _, r := range hand.Rules {
				if d := cmp.Diff(writtenRule(hand, r.ID), writtenRule(rs, r.ID)); d != "" {
					t.Error(d)
				}
			}
			if rs.Digest != hand.Digest {
				t.Error("it is another ruleset")
			}
		})
	}
}

// TestFieldsHavePlaces: a rule of a CSV file stands at its own line of that file, and so does each part of its
// condition.
func TestFieldsHavePlaces(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"deep/t.yaml": csvTable, "deep/rows.csv": csvRows})
	tab := rs.Table("by-density")
	if tab.File != "rows.csv" || tab.Rows[2].Rule.Place.Span.String() != "house/deep/rows.csv:4:2" {
		t.Errorf("%s: %s", tab.File, tab.Rows[2].Rule.Place.Span)
	}
	words := rs.Rule("by-density-words")
	for _, tt := range []struct{ key, part, place, text string }{
		{"if", `"gas bubbles"`, "house/deep/rows.csv:3:25", "gas bubbles"},
		{"if", `facet_doubling == "none"`, "house/deep/rows.csv:3:11", "none"},
		{"unless", "1.6", "house/deep/rows.csv:3:100", "1.6"},
	} {
		text := words.If.Text
		if tt.key == "unless" {
			text = words.Unless.Text
		}
		start := strings.Index(text, tt.part)
		if sp := words.Part(tt.key, start, start+len(tt.part)); sp.String() != tt.place || sp.Text() != tt.text {
			t.Errorf("%s stands at %s: %q", tt.part, sp, sp.Text())
		}
	}
	listed := false
	for _, f := range rs.Files {
		listed = listed || f.Source.Name == "house/deep/rows.csv"
	}
	if !listed {
		t.Error("the file is not among the sources")
	}
	if c := tab.Rows[0].Cells[1]; c.Text != "slight; strong" || c.Span.Text() != "slight; strong" {
		t.Errorf("%+v", c)
	}
}

// TestFieldsRefused: what is wrong with a CSV file is told at its own line and column.
func TestFieldsRefused(t *testing.T) {
	head := "row,specific_gravity,facet_doubling,inclusions,stone.wet,excludes,supports,strength,ratio,establishes,unless\n"
	row := func(cells string) string {
		return head + cells + strings.Repeat(",", 10-strings.Count(cells, ",")) + "\n"
	}
	for name, tt := range map[string]struct{ text, want string }{
		"empty":        {"", `1:1 missing-key ""`},
		"header alone": {head, `7:16 missing-key "rows.csv"`},
		"semicolons": {strings.ReplaceAll(head, ",", ";"), `1:1 bad-syntax "` +
			strings.ReplaceAll(strings.TrimSpace(head), ",", ";") + `"`},
		"semicolons and quotes": {strings.ReplaceAll(head, ",", ";") + `a;"2.6; or so";x` + "\n",
			`1:1 bad-syntax "` + strings.ReplaceAll(strings.TrimSpace(head), ",", ";") + `"`},
		"tabs after a mark": {"\uFEFF" + strings.ReplaceAll(head, ",", "\t"),
			`1:1 bad-syntax "` + strings.ReplaceAll(strings.TrimSpace(head), ",", `\t`) + `"`},
		"unknown column": {"row,spefic_gravity,facet_doubling,inclusions,stone.wet\n",
			`1:5 unknown-key "spefic_gravity" near "specific_gravity"`},
		"unknown effect": {strings.Replace(head, "excludes", "exludes", 1),
			`1:58 unknown-key "exludes" near "excludes"`},
		"column missing": {"row,specific_gravity,facet_doubling,inclusions,excludes\n",
			`1:1 missing-key "row,specific_gravity,facet_doubling,inclusions,excludes"`},
		"column twice": {"row,specific_gravity,row\n", `1:22 duplicate-key "row"`},
		"ragged":       {head + "a,2.6 to 2.7,quartz\n", `2:1 wrong-kind "a,2.6 to 2.7,quartz"`},
		"no name":      {row(",2.6 to 2.7,,,,quartz"), `2:1 missing-key ",2.6 to 2.7,,,,quartz,,,,,"`},
		"bad name":     {row("A,2.6 to 2.7,,,,quartz"), `2:1 bad-id "A"`},
		"name twice": {row("a,2.6 to 2.7,,,,quartz") + "a,2.6 to 2.8,,,,quartz,,,,,\n",
			`3:1 duplicate-id "a"`},
		"bad number": {head + `a," 2,6  to 2.7",,,,quartz,,,,,` + "\n", `2:5 bad-number "2,6"`},
		"bad choice": {row(`a,,slight;  stong,,,quartz`), `2:13 unknown-choice "stong" near "strong"`},
		"bad feature": {row("a,,,\"gas bubbles;\nfether\",,ordinary-glass"),
			`3:1 unknown-feature "fether" near "feather"`},
		"bad truth":  {row("a,2.6 to 2.7,,,yes,quartz"), `2:16 wrong-kind "yes"`},
		"empty item": {row("a,2.6 to 2.7,,,,quartz;"), `2:17 bad-text "quartz;"`},
		"bad material": {row(`a,2.6 to 2.7,,,,"quartz; quarz"`),
			`2:26 unknown-material "quarz" near "quartz"`},
		"alone":          {row("a,2.6 to 2.7,,,,quartz,,weak"), `2:25 missing-key "weak"`},
		"no strength":    {row("a,2.6 to 2.7,,,,,quartz"), `2:18 missing-key "quartz"`},
		"both":           {row("a,2.6 to 2.7,,,,,quartz,weak,5"), `2:30 given-twice "5"`},
		"ratio of words": {row("a,2.6 to 2.7,,,,,quartz,,much"), `2:26 wrong-kind "much"`},
		"no fact":        {row("a,2.6 to 2.7,,,,,,,,= light"), `2:21 bad-text "= light"`},
		"fact twice":     {row("a,2.6 to 2.7,,,,,,,,b;b = c"), `2:23 given-twice "b"`},
		"bad unless": {row(`a,2.6 to 2.7,,,,quartz,,,,,"colour == ""bleu"""`),
			`2:39 unknown-choice "\"\"bleu\"\"" near "blue"`},
		"quote":         {row(`a,2.6 "to" 2.7,,,,quartz`), `2:7 bad-syntax "\""`},
		"open quote":    {row(`a,"2.6 to 2.7,,,,quartz`), `2:1 bad-syntax "a"`},
		"after a quote": {row(`a,"2.6 to 2.7"x,,,,quartz`), `2:14 bad-syntax "\""`},
		"carriage return": {strings.ReplaceAll(row("a,2.6 to 2.7,,,,quartz"), "\n", "\r"),
			`1:109 bad-encoding "\r"`},
		"not UTF-8": {row("a,2.6 to 2.7,,,,qu\xffrtz"), `2:19 bad-encoding "\xff"`},
	} {
		t.Run(name, func(t *testing.T) {
			rs, out := loadtest.House(t, map[string]string{"t.yaml": csvTable, "rows.csv": tt.text})
			if rs != nil || len(out) != 1 {
				t.Fatal(loadtest.Render(t, out))
			}
			got := describeFinding(out[0])
			if got != tt.want {
				t.Errorf("%s\nwant %s\n%s", got, tt.want, loadtest.Render(t, out))
			}
		})
	}
}

func describeFinding(d diag.Diagnostic) string {
	p := d.Span.Position()
	out := itoa(p.Line) + ":" + itoa(p.Column) + " " + string(d.Code) + " " + quoted(d.Span.Text())
	if d.Nearest != "" {
		out += " near " + quoted(d.Nearest)
	}
	return out
}

// TestTableFiles: a CSV file that no table names is told of, and a name that no file has is refused with the nearest.
func TestTableFiles(t *testing.T) {
	rows := "row,ri,cautions\na,above 1.5,x\n"
	table := func(from string) string {
		return "format: 1\ntables: [{table: t, says: x, columns: [ri], rows_from: " + from + "}]\n"
	}
	rs, out := loadtest.House(t, map[string]string{"a/t.yaml": table("../b/rows.csv"), "b/rows.csv": rows,
		"other.csv": "\"x"})
	if rs == nil || len(out) != 1 || out[0].Code != "unused-file" || out[0].Severity != diag.Warning ||
		out[0].Span.String() != "house/other.csv:1:1" {
		t.Error(loadtest.Render(t, out))
	}
	for from, near := range map[string]string{"row.csv": "rows.csv", "/rows.csv": "rows.csv", "../rows.csv": "rows.csv",
		"../b/row.csv": "../b/rows.csv", "t.yaml": "", "../../small/rows.csv": ""} {
		files := map[string]string{"a/t.yaml": table(from), "a/rows.csv": rows}
		if strings.HasPrefix(near, "..") {
			files["b/rows.csv"] = rows
			delete(files, "a/rows.csv")
		}
		rs, out := loadtest.House(t, files)
		told := 1
		if near == "" { // the file that is there is not the one that was meant
			told = 2
		}
		if rs != nil || len(out) != told || out[told-1].Code != "unknown-file" || out[told-1].Nearest != near {
			t.Errorf("%s: %s", from, loadtest.Render(t, out))
		}
	}
	// Of two layers each has its own files.
	rs, out = load.Load(t.Context(), []load.Layer{{"small", loadtest.Small(t, map[string]string{"rows.csv": rows})},
		{"house", loadtest.Small(t, map[string]string{"t.yaml": table("rows.csv")})}})
	if rs != nil || !strings.Contains(loadtest.Render(t, out), `the layer has no CSV file "rows.csv"`) {
		t.Error(loadtest.Render(t, out))
	}
}

// TestLongTables: a table has an end.
func TestLongTables(t *testing.T) {
	var b strings.Builder
	b.WriteString("row,ri,cautions\n")
	for i := range load.MaxTableRows + 1 {
		b.WriteString("r" + itoa(i) + ",above 1.5,x\n")
	}
	table := "format: 1\ntables: [{table: t, says: x, columns: [ri], rows_from: rows.csv}]\n"
	rs, out := loadtest.House(t, map[string]string{"t.yaml": table, "rows.csv": b.String()})
	if rs != nil || len(out) != 1 || out[0].Code != "too-long" || out[0].Span.Position().Line != load.MaxTableRows+2 {
		t.Error(loadtest.Render(t, out))
	}
	rs, _ = loadtest.House(t, map[string]string{"t.yaml": table, "rows.csv": strings.TrimSuffix(b.String(),
		"r"+itoa(load.MaxTableRows)+",above 1.5,x\n")})
	if rs == nil || len(rs.Table("t").Rows) != load.MaxTableRows {
		t.Error("a table of as many rows as there may be is refused")
	}
}

func itoa(n int) string { return strconv.Itoa(n) }

func quoted(s string) string { return strconv.Quote(s) }

// TestRowsAlone: CSV files are read, but make no layer by themselves.
func TestRowsAlone(t *testing.T) {
	for name, read := range map[string]bool{"a.csv": true, "a/b.csv": true, ".a.csv": false, "#a.csv": false,
		"a.csv~": false, "a.tsv": false} {
		if load.IsRulesetFile(name) != read {
			t.Errorf("%s is read: %t", name, !read)
		}
	}
	rs, out := load.Load(t.Context(), []load.Layer{{"small", loadtest.Small(t, nil)},
		{"rows", fstest.MapFS{"a.csv": {Data: []byte("row\n")}}}})
	if rs != nil || !strings.Contains(out.Error(), "the layer rows holds no YAML file") {
		t.Error(out)
	}
}
