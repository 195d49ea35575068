package proofread

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/load"
)

// tableOf is a ruleset with one table.
func tableOf(t *testing.T, columns string, cells ...string) *kb.Ruleset {
	t.Helper()
	var b strings.Builder
	fmt.Fprintf(&b, "format: 1\ntables:\n  - table: it\n    says: Invented.\n    source: invented\n    columns: "+
		"[%s]\n    rows:\n", columns)
	for i, c := range cells {
		fmt.Fprintf(&b, "      - {row: r%d, %s, cautions: c%d}\n", i, c, i)
	}
	return above(t, b.String())
}

// tableFindings are those of tables, by code.
func tableFindings(t *testing.T, rs *kb.Ruleset, code string) (out []Finding) {
	t.Helper()
	for _, f := range report(t, rs).Findings {
		if string(f.Code) == code {
			out = append(out, f)
		}
	}
	return out
}

// TestGapWords: a gap is told in as few regions and words as will do.
func TestGapWords(t *testing.T) {
	tests := []struct {
		columns string
		cells   []string
		gaps    []string // after "takes"
	}{
		{"stone.carat", []string{"stone.carat: below 1", "stone.carat: from 2"}, []string{"stone.carat from 1 to 2"}},
		{"stone.carat", []string{"stone.carat: below 1", "stone.carat: above 2"},
			[]string{"stone.carat from 1 to 2, 2 too"}},
		{"stone.carat", []string{"stone.carat: [below 1, 1 to 1.5]", "stone.carat: above 1.5"},
			[]string{"stone.carat exactly 1.5"}},
		{"stone.carat", []string{"stone.carat: from 1"}, []string{"stone.carat below 1"}},
		{"stone.carat", []string{"stone.carat: above 1"}, []string{"stone.carat 1 or below"}},
		{"stone.carat", []string{"stone.carat: below 1"}, []string{"stone.carat from 1"}},
		{"specific_gravity", []string{"specific_gravity: above 3"}, []string{"specific_gravity 3 or below"}},
		{"colour", []string{"colour: red"}, []string{"colour blue or colourless"}},
		{"colour, stone.wet", []string{"colour: red", "stone.wet: true"},
			[]string{"colour blue or colourless with stone.wet false"}},
		{"colour, stone.wet, stone.mounted", []string{"colour: red", "stone.wet: true", "stone.mounted: true"},
			[]string{"colour blue or colourless with stone.wet false and stone.mounted false"}},
		{"inclusions, ri", []string{"inclusions: [feather, needles, crystal], ri: below 1.6",
			"inclusions: crystal, ri: from 1.6"},
			[]string{"inclusions showing feather or needles with ri from 1.6"}},
		{"claim, colour", []string{"claim: [ruby, spinel], colour: red"}, []string{"colour blue or colourless"}},
		{"high_index", []string{"high_index: true"}, []string{"high_index false"}},
		// an L-shape is two regions that lap over, not three that don't
		{"ri, specific_gravity", []string{"ri: below 1.6, specific_gravity: below 3"},
			[]string{"ri from 1.6", "specific_gravity from 3"}},
		// a ring about a row is four
		{"ri, specific_gravity", []string{"ri: 1.5 to 1.6, specific_gravity: 3 to 4"},
			[]string{"ri below 1.5", "ri from 1.6", "specific_gravity below 3", "specific_gravity from 4"}},
		// what is beyond the limit of the test is no gap
		{"ri", []string{"ri: 1.3 to 1.6", "ri: 1.6 to 1.9"}, nil},
	}
	for _, tt := range tests {
		var got []string
		for _, f := range tableFindings(t, tableOf(t, tt.columns, tt.cells...), "table-gap") {
			_, says, _ := strings.Cut(f.Summary, `"it" takes `)
			got = append(got, says)
		}
		if !slices.Equal(got, tt.gaps) {
			t.Errorf("%q: gaps are %q, want %q", tt.cells, got, tt.gaps)
		}
	}
}

// TestManyOfATable: a few findings of a table are told, the last of which says how many more there are.
func TestManyOfATable(t *testing.T) {
	parted, lapping := []string{"ri: below 1.4"}, []string{}
	for i := range 8 {
		parted = append(parted, fmt.Sprintf("ri: 1.4%d5 to 1.4%d9", i, i))
		lapping = append(lapping, "ri: from 1.4")
	}
	parted = append(parted, "ri: from 1.48")
	for _, tt := range []struct {
		cells []string
		code  string
		more  string
	}{
		{parted, "table-gap", "The table has 4 more gaps, which are not told."},
		{slices.Delete(slices.Clone(parted), 1, 4), "table-gap", "The table has one more gap, which is not told."},
		{slices.Delete(slices.Clone(parted), 1, 5), "table-gap", "why nothing follows there."},
		{lapping, "table-overlap", "23 more pairs of its rows overlap, which are not told."},
		{lapping[:4], "table-overlap", "One more pair of its rows overlaps, which is not told."},
	} {
		found := tableFindings(t, tableOf(t, "ri", tt.cells...), tt.code)
		if len(found) != maxTold || !strings.HasSuffix(found[maxTold-1].Detail, tt.more) {
			t.Errorf("%d %s of %d rows, %q", len(found), tt.code, len(tt.cells), found[len(found)-1].Detail)
		}
		ids := map[string]bool{}
		for i, f := range found {
			if i < maxTold-1 && strings.Contains(f.Detail, "more") {
				t.Errorf("it is said of %d already: %s", i, f.Detail)
			}
			ids[f.Witness.ID] = true
			if !strings.Contains(f.Witness.Text, "case: "+f.Witness.ID+"\n") {
				t.Errorf("%s: %s", f.Witness.ID, f.Witness.Text)
			}
		}
		if len(ids) != maxTold {
			t.Errorf("cases of one name: %v", ids)
		}
	}
}

// TestCSVTable: what is found of a table in a CSV file stands there.
func TestCSVTable(t *testing.T) {
	for csv, want := range map[string][]string{
		"row,specific_gravity,colour,cautions\nlight,below 2.7,,a\nheavy,from 2.7,red; blue,b\nclear,from " +
			"2.7,colourless,c\n": nil,
		"row,specific_gravity,colour,cautions\nlight,below 2.8,,a\nheavy,from 2.7,red; blue,b\n": {
			`house/house.yaml:3:12: table-gap specific_gravity from 2.8 with colour colourless`,
			`house/sheet.csv:3:1: table-overlap`},
	} {
		rs := loaded(t, load.Layer{Name: "base", FS: os.DirFS("testdata/base")},
			load.Layer{Name: "house", FS: fstest.MapFS{
				"house.yaml": {Data: []byte("format: 1\ntables:\n  - table: it\n    says: Invented.\n    source: " +
					"invented\n    columns: [specific_gravity, colour]\n    rows_from: sheet.csv\n")},
				"sheet.csv": {Data: []byte(csv)}}})
		var got []string
		for _, f := range report(t, rs).Findings {
			says := fmt.Sprintf("%s: %s", f.Span, f.Code)
			if _, gap, ok := strings.Cut(f.Summary, `"it" takes `); ok {
				says += " " + gap
			}
			if f.Severity != diag.Note {
				got = append(got, says)
			}
		}
		if !slices.Equal(got, want) {
			t.Errorf("%s: %q", csv, got)
		}
	}
}

// TestAcceptedTable: a table accepts its gaps, and a row or the table its overlaps.
func TestAcceptedTable(t *testing.T) {
	rs := above(t, `format: 1
tables:
  - table: it
    says: Invented.
    source: invented
    columns: [colour]
    accepts:
      - {finding: table-gap, because: clear stones are weighed, until: 2032-01-01}
    rows:
      - {row: a, colour: red, cautions: a}
      - {row: b, colour: [red, blue], cautions: b, accepts: [{finding: table-overlap, with: it-a, because: red is warned of twice, until: 2032-01-01}]}
`)
	for _, code := range []string{"table-gap", "table-overlap"} {
		if found := tableFindings(t, rs, code); len(found) != 1 || found[0].Accepted == nil {
			t.Errorf("%s: %v", code, found)
		}
	}
	if found := tableFindings(t, rs, "acceptance-idle"); len(found) > 0 {
		t.Error(found[0].Error())
	}
}
