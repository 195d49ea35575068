package separation

import "testing"

// As large as a ruleset gets: 180 materials, 60 tests, and rules on each. All invented.
var large = drawn{seed: 1, materials: 180, tests: 60, rules: 5, without: -1, tame: true}

// TestLargeRuleset: how long it takes is told by the benchmarks; judging each pair by itself would take minutes.
func TestLargeRuleset(t *testing.T) {
	if testing.Short() {
		t.Skip("minutes with the race detector")
	}
	e := large.engine(t)
	if n := len(e.Ruleset.Leaves); n != 180 || len(e.Ruleset.Tests) != 60 || len(e.Ruleset.Rules) < 200 {
		t.Fatalf("%d materials, %d tests, %d rules", n, len(e.Ruleset.Tests), len(e.Ruleset.Rules))
	}
	table := build(t, e)
	if n := len(table.Tests()); n != 60 {
		t.Errorf("only %d tests are judged", n)
	}
	if all, few := table.Report(nil).Apart, table.Report(table.rs.TestIDs()[:40]).Apart; all < few || few == 0 {
		t.Errorf("%d pairs are told apart with all tests, %d without 40 of them", all, few)
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
