package next

import (
	"os"
	"path/filepath"
	"slices"
	"syscall"
	"testing"
	"time"

	"whystone/engine"
	"whystone/kb/kbtest"
	"whystone/kb/load"
)

// BenchmarkNext is the advice on the demo cases and on one with a single reading, by the diamond desk (48 materials and
// what is told of them in groups) and by the gem desk (180 and more). "explained" is the processors' time as a part of
// what judging the same cases with their chains takes in the same run, in turns.
func BenchmarkNext(b *testing.B) {
	gem := load.Layer{Name: "gem-desk", FS: os.DirFS(filepath.Join(kbtest.Root(b), "rulesets", "gem-desk"))}
	for _, desk := range []struct {
		name  string
		above []load.Layer
	}{{"diamond-desk", nil}, {"gem-desk", []load.Layer{gem}}} {
		e := engine.Prepare(loaded(b, desk.above...))
		cases := demoCases(b, e.Ruleset)
		cases["one-reading"] = read(b, e.Ruleset, "one", "case: one\nreadings: {thermal_probe: below diamond range}\n")
		var names []string
		for name := range cases {
			names = append(names, name)
		}
		slices.Sort(names)
		b.Run(desk.name, func(b *testing.B) {
			a, j := New(e), e.NewJudge()
			var advising, explaining time.Duration
			for b.Loop() {
				for _, name := range names {
					advising += used(func() { a.Next(cases[name], noon, Options{Workers: 1}) })
					explaining += used(func() {
						for range explained {
							j.Explain(cases[name], noon)
						}
					})
				}
			}
			each := float64(b.N * len(names))
			b.ReportMetric(0, "ns/op")
			b.ReportMetric(float64(len(e.Ruleset.Leaves)), "leaves")
			b.ReportMetric(explained*float64(advising)/float64(explaining), "explained")
			b.ReportMetric(float64(advising.Microseconds())/each, "cpu-us/case")
		})
	}
}

// explained is how often a case is judged with its chain for each time that advice is given on it.
const explained = 8

// used is the processors' time that a piece of work took.
func used(work func()) time.Duration {
	var before, after syscall.Rusage
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &before)
	work()
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &after)
	return time.Duration(after.Utime.Nano() + after.Stime.Nano() - before.Utime.Nano() - before.Stime.Nano())
}
