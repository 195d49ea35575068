package apart

import (
	"testing"
	"time"
)

// As large as a ruleset gets: 180 materials, 60 tests, and rules on each. All invented.
var large = drawn{seed: 1, materials: 180, tests: 60, rules: 5, without: -1, tame: true}

// fast is far above what a table takes on two idle processors (the benchmarks tell), so that a busy machine passes; judging
// each pair by itself would take minutes.
const fast = 20 * time.Second

func TestLargeRulesetIsFast(t *testing.T) {
	if testing.Short() {
		t.Skip("a short run may be one with the race detector, which is no measure of speed")
	}
	e := large.engine(t)
	if n := len(e.Ruleset.Leaves); n != 180 || len(e.Ruleset.Tests) != 60 || len(e.Ruleset.Rules) < 200 {
		t.Fatalf("%d materials, %d tests, %d rules", n, len(e.Ruleset.Tests), len(e.Ruleset.Rules))
	}
	start := time.Now()
	table := build(t, e)
	if n := len(table.Tests()); n != 60 {
		t.Errorf("only %d tests are judged", n)
	}
	table.Report(table.rs.TestIDs()[:20])
	took := time.Since(start)
	t.Log(took)
	if took > fast {
		t.Errorf("it took %v, more than %v", took, fast)
	}
}

func BenchmarkShipped(b *testing.B) {
	e := folder(b, shipped)
	for b.Loop() {
		build(b, e)
	}
}

func BenchmarkLarge(b *testing.B) {
	e := large.engine(b)
	for b.Loop() {
		build(b, e)
	}
}

// BenchmarkReport: with all instruments every pair is told apart by many tests; without any all of them are alike.
func BenchmarkReport(b *testing.B) {
	t := build(b, large.engine(b))
	for b.Loop() {
		t.Report(t.rs.TestIDs()[:40])
	}
}
