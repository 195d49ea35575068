package load_test

import (
	"os"
	"testing"
	"time"

	"whystone/kb/load"
	"whystone/kb/load/loadtest"
)

// TestShippedRulesets: what is shipped loads without a word, and its examples come out; the example of a house's layer
// too.
func TestShippedRulesets(t *testing.T) {
	desk := load.Layer{Name: "diamond-desk", FS: os.DirFS("../../rulesets/diamond-desk")}
	house := load.Layer{Name: "house-example", FS: os.DirFS("../../rulesets/house-example")}
	digests := map[string]bool{}
	for name, layers := range map[string][]load.Layer{"desk": {desk}, "house": {desk, house}} {
		t.Run(name, func(t *testing.T) {
			rs, out := load.Load(t.Context(), layers)
			if rs == nil || len(out) > 0 {
				t.Fatal(loadtest.Render(t, out))
			}
			failed := loadtest.CheckExamples(rs, time.Date(2031, 1, 1, 0, 0, 0, 0, time.UTC))
			if len(failed) > 0 {
				t.Error(loadtest.Render(t, failed))
			}
			examples := 0
			for _, r := range rs.Rules {
				examples += len(r.Examples)
			}
			if len(rs.Leaves) < 16 || len(rs.Rules) < 30 || examples < len(rs.Rules) {
				t.Errorf("%d materials, %d rules with %d examples", len(rs.Leaves), len(rs.Rules), examples)
			}
			digests[rs.Digest] = true
		})
	}
	if len(digests) != 2 {
		t.Error("with a house above it the ruleset has the same digest")
	}
}
