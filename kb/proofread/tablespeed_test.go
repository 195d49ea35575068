package proofread

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"testing/fstest"

	"whystone/kb"
	"whystone/kb/load"
)

// largeTable is a ruleset of one table of as many rows as there may be, over the columns of the speed model.
func largeTable(t testing.TB, columns int, row func(i int) string) *kb.Ruleset {
	t.Helper()
	m := speedModel{rng: rand.New(rand.NewPCG(7, 11)), facts: 1}
	var b strings.Builder
	b.WriteString("format: 1\ntables:\n  - table: large\n    says: invented\n    source: invented\n    columns: [")
	for i := range columns {
		fmt.Fprintf(&b, "%s, ", []string{fmt.Sprintf("quantity_%d", i/2), fmt.Sprintf("choice_%d", i/2)}[i%2])
	}
	b.WriteString("]\n    rows:\n")
	for i := range load.MaxTableRows {
		fmt.Fprintf(&b, "      - {row: r%d, %s, cautions: c%d}\n", i, row(i), i)
	}
	files := speedFiles(0)
	files["tests.yaml"], files["materials.yaml"] = &fstest.MapFile{Data: []byte(m.tests())},
		&fstest.MapFile{Data: []byte(m.materials())}
	delete(files, "rules.yaml")
	files["tables.yaml"] = &fstest.MapFile{Data: []byte(b.String())}
	return loaded(t, load.Layer{Name: "speed", FS: files})
}

// largeTables are tables of 2,000 rows that must be gone through within a time that a person waits.
var largeTables = []struct {
	name          string
	columns       int
	row           func(i int) string
	gaps, pairs   int // told
	not, moreThan string
}{
	{"neighbours", 1, func(i int) string { return fmt.Sprintf("quantity_0: %d.5 to %d.5", i, i+1) }, 0, 0, "", ""},
	{"all overlap", 1, func(i int) string { return fmt.Sprintf("quantity_0: 1 to %d", i+2) }, 1, maxTold, "",
		"Up to 1998995 more pairs"},
	{"chequered", 2, func(i int) string {
		return fmt.Sprintf("quantity_0: %d.5 to %d.5, choice_0: outcome %d", i/3, i/3+1, i%3)
	}, 1, 0, "", ""},
	{"every other is missing", 2, func(i int) string {
		return fmt.Sprintf("quantity_0: %.4f to %.4f, choice_0: [outcome 0, outcome 1]", 1+float64(i)/1000,
			1.0005+float64(i)/1000)
	}, maxTold, 0, "", "more gaps"},
	{"at random", 32, randomRow, maxTold, maxTold, "not-analysed", "more gaps"},
}

// randomRow asks of a third of 32 columns.
func randomRow(i int) string {
	rng := rand.New(rand.NewPCG(3, uint64(i)))
	var cells []string
	for c := range 32 {
		switch {
		case rng.IntN(3) > 0:
		case c%2 == 0:
			lo := 1 + rng.Float64()
			cells = append(cells, fmt.Sprintf("quantity_%d: %.2f to %.2f", c/2, lo, lo+1))
		default:
			cells = append(cells, fmt.Sprintf("choice_%d: [outcome %d, outcome %d]", c/2, rng.IntN(3), 3+rng.IntN(3)))
		}
	}
	return strings.Join(append(cells, "quantity_0: from 0.6")[:max(len(cells), 1)], ", ")
}

// TestLargeTables: the checks of tables come to an end on the largest that there may be (BenchmarkLargeTables says
// when), and tell a few of many.
func TestLargeTables(t *testing.T) {
	if testing.Short() {
		t.Skip("the largest tables are for long runs")
	}
	for _, tt := range largeTables {
		t.Run(tt.name, func(t *testing.T) {
			rs := largeTable(t, tt.columns, tt.row)
			p := newPass(t.Context(), rs, on)
			tables(p)
			doubts(p)
			told, details := map[string]int{}, ""
			for _, f := range p.found {
				told[string(f.Code)]++
				details += f.Detail
			}
			if told["table-gap"] != tt.gaps || told["table-overlap"] != tt.pairs ||
				told["not-analysed"] > 0 != (tt.not != "") || !strings.Contains(details, tt.moreThan) {
				t.Errorf("told are %v: %s", told, details)
			}
		})
	}
}

func BenchmarkLargeTables(b *testing.B) {
	for _, tt := range largeTables {
		b.Run(tt.name, func(b *testing.B) {
			rs := largeTable(b, tt.columns, tt.row)
			for b.Loop() {
				tables(newPass(b.Context(), rs, on))
			}
		})
	}
}
