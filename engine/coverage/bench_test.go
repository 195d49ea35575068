package coverage_test

import (
	"testing"

	"whystone/engine"
	"whystone/engine/archive"
	"whystone/engine/coverage"
	"whystone/kb/casefile"
	"whystone/kb/eval"
)

// BenchmarkCoverage counts the cases of an invented archive, against judging them and no more: how much dearer it is.
func BenchmarkCoverage(b *testing.B) {
	e := prepared(b)
	cases := read(b, e, archive.Input{Paths: []string{sample(b, e, 2000, 6)}})
	perSecond := func(b *testing.B) { b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "cases/s") }
	b.Run("judged", func(b *testing.B) {
		j := e.NewJudge()
		var d engine.Decision
		for i := 0; b.Loop(); i++ {
			c := cases[i%len(cases)]
			j.Decide(c, date(c), &d)
		}
		perSecond(b)
	})
	b.Run("counted", func(b *testing.B) {
		k := coverage.NewCounter(e)
		for i := 0; b.Loop(); i++ {
			c := cases[i%len(cases)]
			k.Add(c, date(c))
		}
		perSecond(b)
	})
}

func read(tb testing.TB, e *engine.Engine, in archive.Input) (out []*casefile.Case) {
	tb.Helper()
	d := &archive.Decoder{Reader: eval.CaseReader(e.Ruleset)}
	if err := archive.Each(tb.Context(), in, func(r *archive.Raw) bool {
		c, found := d.Decode(r)
		if c == nil {
			tb.Fatal(found)
		}
		out = append(out, c)
		return true
	}); err != nil {
		tb.Fatal(err)
	}
	return out
}
