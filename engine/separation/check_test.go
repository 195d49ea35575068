package separation

import (
	"testing"

	"whystone/kb/diag"
	"whystone/kb/proofread"
)

// TestCheck: whoever proofreads and has this package is told what no test tells apart, unless a verdict may name it
// together; of a house that lacks tests, more.
func TestCheck(t *testing.T) {
	table := build(t, folder(t, small))
	count := func(lacks ...string) (n int) {
		report, err := proofread.Run(t.Context(), table.rs, proofread.Options{On: noon, Lacks: lacks})
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range report.Findings {
			if f.Code == alikeToAllTests {
				n++
				if f.Severity != diag.Note || len(f.Sheets) < 2 || len(f.Related) != len(f.Sheets)-1 ||
					f.Span.IsZero() {
					t.Errorf("%+v", f)
				}
			}
		}
		return n
	}
	want := func(lacks ...string) (n int) {
		for _, g := range table.Findings(lacks) {
			if !g.Expected() {
				n++
			}
		}
		return n
	}
	if got, expected := count(), want(); got != expected {
		t.Errorf("%d findings, want %d", got, expected)
	}
	all := table.rs.TestIDs()
	if got, expected := count(all...), want(all...); got != expected || got == 0 {
		t.Errorf("%d findings without any test, want %d", got, expected)
	}
}
