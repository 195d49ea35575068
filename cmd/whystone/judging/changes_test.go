package judging

import (
	"fmt"
	"testing"

	"whystone/engine/diff"
	"whystone/kb"
)

// TestForemost: a checkout that changes a hundred sheets is told in a few lines, and nothing of it is passed over.
func TestForemost(t *testing.T) {
	var list []diff.Sheet
	for i := range 40 {
		list = append(list, diff.Sheet{What: "rule", ID: fmt.Sprint("r-", i), How: "changed"})
	}
	list = append(list, diff.Sheet{What: "material", ID: "topaz", How: "removed"})
	rs := &kb.Ruleset{}
	got := Foremost(rs, list)
	if n := len(got); n != mostChanges+1 || got[0] != "rule r-0 changed" ||
		got[n-1] != "and beside these 28 rules changed and 1 material removed" {
		t.Errorf("%d lines: %q", n, got)
	}
	if few := list[:mostChanges+1]; len(Foremost(rs, few)) != len(few) {
		t.Error("one more than fits is told in a line as long as its own")
	}
}
