package terminal

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"

	"pgregory.net/rapid"

	"whystone/kb"
	"whystone/kb/load"
)

// withTables is the tests' small ruleset with tables of a house above it.
func withTables(t interface{ Fatal(...any) }, text string) *kb.Ruleset {
	rs, found := load.Load(context.Background(), []load.Layer{
		{Name: "desk", FS: os.DirFS(filepath.Join("..", "testdata", "desk"))},
		{Name: "house", FS: fstest.MapFS{"t.yaml": {Data: []byte("format: 1\ntables:\n" + text)}}}})
	if rs == nil {
		t.Fatal(found)
	}
	return rs
}

var escapes = regexp.MustCompile(`\x1b\[[0-9;]*m`)

// TestTableAtAnyWidth: at every width nothing of a table is lost, and no line is longer than the width but for one
// word.
func TestTableAtAnyWidth(t *testing.T) {
	all := []string{"specific_gravity", "facet_doubling", "stone.mounted", "inclusions", "ri", "claim", "stake"}
	cells := map[string][]string{"specific_gravity": {"above 5.5", "2.6 to 2.7"},
		"facet_doubling": {"slight", "[slight, strong]"}, "stone.mounted": {"true"},
		"inclusions": {"[gas bubbles, feather]"}, "ri": {"[below 1.5, 1.6 to 1.7]"},
		"claim": {"a very long claim of many words", "diamond"}, "stake": {"from 5000"}}
	rapid.Check(t, func(t *rapid.T) {
		columns := rapid.Permutation(all).Draw(t, "columns")[:rapid.IntRange(1, len(all)).Draw(t, "how many")]
		text := "  - table: t\n    says: What the table says.\n    source: invented\n    columns: [" +
			strings.Join(columns, ", ") + "]\n    rows:\n"
		rows := rapid.SliceOfNDistinct(rapid.StringMatching(`[a-z]{1,12}(-[a-z]{1,8})?`), 1, 4, rapid.ID[string]).
			Filter(func(names []string) bool {
				return !strings.Contains(" "+strings.Join(names, " ")+" ",
					" on ")
			}).Draw(t, "rows")
		want := []string{"t", "row"}
		for i, name := range rows {
			text += "      - {row: '" + name +
				"', cautions: A caution of a good many words that goes on., calls_for: [refractometer]"
			want = append(want, name)
			for _, c := range columns {
				if rapid.Bool().Draw(t, "any") {
					continue
				}
				cell := rapid.SampledFrom(cells[c]).Draw(t, "cell")
				text += ", " + c + ": " + cell
				want = append(want, strings.FieldsFunc(cell, func(r rune) bool {
					return strings.ContainsRune("[], ",
						r)
				})...)
			}
			text += "}\n"
			want = append(want, "house/t.yaml:"+number(float64(8+i)))
		}
		rs := withTables(t, text)
		width := rapid.IntRange(Narrowest, 160).Draw(t, "width")
		var b bytes.Buffer
		p := New(&b, width, rapid.Bool().Draw(t, "colour"))
		p.RuleTable(rs, rs.Table("t"))
		if err := p.Flush(); err != nil {
			t.Fatal(err)
		}
		plainText := escapes.ReplaceAllString(b.String(), "")
		for line := range strings.SplitSeq(plainText, "\n") {
			if cellsOf(line) > width && strings.Contains(strings.TrimSpace(line), " ") {
				t.Fatalf("%d cells in a width of %d: %q\n%s", cellsOf(line), width, line, plainText)
			}
			if strings.TrimRight(line, " ") != line {
				t.Fatalf("blanks at the end of %q", line)
			}
		}
		for _, w := range want[2:] {
			if !strings.Contains(plainText, w) {
				t.Fatalf("%q is not told:\n%s", w, plainText)
			}
		}
	})
}
