package possible

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"whystone/engine/enginetest"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/eval"
	"whystone/kb/load"
	"whystone/kb/vocab"
)

var loaded = enginetest.Ruleset

func read(tb testing.TB, rs *kb.Ruleset, text string) *casefile.Case {
	tb.Helper()
	return enginetest.Case(tb, rs, "case", text)
}

// TestAgainIsWhatIntakeMakes draws pairs of readings and writes them both as repeats in a case file: what intake makes of
// them is what Again makes of them.
func TestAgainIsWhatIntakeMakes(t *testing.T) {
	rs := loaded(t)
	rng := rand.New(rand.NewPCG(2, 7))
	kinds := map[string]int{}
	for range 3000 {
		o := rs.Vocabulary.Observables[rng.IntN(len(rs.Vocabulary.Observables))]
		a, b := drawReading(rng, o), drawReading(rng, o)
		one := read(t, rs, fmt.Sprintf("case: one\nreadings: {%s: %s}\n", o.Name, a)).Readings[0]
		other := read(t, rs, fmt.Sprintf("case: other\nreadings: {%s: %s}\n", o.Name, b)).Readings[0]
		both := read(t, rs, fmt.Sprintf("case: both\nreadings: {%s: [%s, %s]}\n", o.Name, a, b)).Readings[0]
		got := Again(one, other)
		kinds[fmt.Sprint(o.Kind, got.Form == casefile.Inconclusive)]++
		if got.Form != both.Form || got.Outcome != both.Outcome && both.Form == casefile.Choice || got.Seen != both.Seen || got.LookedFor != both.LookedFor ||
			got.Disagrees != both.Disagrees || got.Blunder != both.Blunder || got.Usable() && got.Noise != both.Noise || !near(got.Value, both.Value) || !near(got.High, both.High) ||
			got.Usable() && (!near(got.U, both.U) || !near(got.HighU, both.HighU)) || got.Form == casefile.Interval && (got.Lo != both.Lo || got.Hi != both.Hi) {
			t.Fatalf("%s: %s and %s\n intake %+v\n again  %+v", o.Name, a, b, *both, *got)
		}
	}
	if len(kinds) < 5 {
		t.Errorf("few kinds of repeat were met: %v", kinds)
	}
}

// TestAgainBesideABound holds the rows of a value beside a bound: it agrees within twice its uncertainty, as at intake.
func TestAgainBesideABound(t *testing.T) {
	rs := loaded(t)
	for _, x := range []struct {
		value, bound string
		agree        bool
	}{
		{"{value: 3.50, uncertainty: 0.02}", "{above: 3.53}", true},
		{"{value: 3.50, uncertainty: 0.02}", "{above: 3.55}", false},
		{"{value: 3.50, uncertainty: 0.02}", "{below: 3.47}", true},
		{"{value: 3.50, uncertainty: 0.02}", "{below: 3.45}", false},
	} {
		one := read(t, rs, "case: c\nreadings: {specific_gravity: "+x.value+"}\n").Readings[0]
		other := read(t, rs, "case: c\nreadings: {specific_gravity: "+x.bound+"}\n").Readings[0]
		both := read(t, rs, "case: c\nreadings: {specific_gravity: ["+x.value+", "+x.bound+"]}\n").Readings[0]
		for _, got := range []*casefile.Reading{Again(one, other), Again(other, one), both} {
			if got.Usable() != x.agree || x.agree && (got.Form != casefile.Value || got.Value != 3.5) {
				t.Errorf("%s beside %s: %+v", x.value, x.bound, *got)
			}
		}
	}
}

func near(a, b float64) bool { return a == b || math.Abs(a-b) <= 1e-12*math.Abs(b) }

// drawReading writes a reading of an observable as a case file has it.
func drawReading(rng *rand.Rand, o *vocab.Observable) string {
	if rng.IntN(6) == 0 {
		return "{inconclusive: dust}"
	}
	word := func() string { return `"` + o.Outcomes[rng.IntN(len(o.Outcomes))].Name + `"` }
	switch o.Kind {
	case vocab.Choice:
		return "{choice: " + word() + "}"
	case vocab.Features:
		return "{features: [" + word() + "], looked_for: [" + word() + ", " + word() + "]}"
	}
	top := o.Span[1]
	if o.Name == vocab.RefractiveIndex {
		top = 1.80
	}
	x := o.Span[0] + (top-o.Span[0])*float64(rng.IntN(8)+1)/10
	switch k := rng.IntN(4); {
	case k == 0:
		return fmt.Sprintf("{above: %g}", x)
	case k == 1 && o.Name == vocab.RefractiveIndex:
		return fmt.Sprintf("{value: [%g, %g]}", x, x+0.009)
	}
	return fmt.Sprintf("{value: %g, uncertainty: %g}", x+rng.Float64()*(o.Span[1]-o.Span[0])/500, (o.Span[1]-o.Span[0])/1000)
}

func TestWithLeavesTheCaseAlone(t *testing.T) {
	rs := loaded(t)
	c := read(t, rs, "case: c\nreadings: {thermal_probe: diamond range, specific_gravity: {value: 3.5, where: crown}}\n")
	before := slices.Clone(c.Readings)
	probe := Sources(rs, rs.Test("thermal-probe"))[0]
	low, _ := probe.Observable.Outcome("below diamond range")
	weighing := Sources(rs, rs.Test("hydrostatic-weighing"))[0]
	more := With(c, probe.Choice(low), weighing.Value(3.51), Sources(rs, rs.Test("loupe-doubling"))[0].Choice(0))
	if len(c.Readings) != 2 || !slices.Equal(c.Readings, before) || c.Readings[1].Outcome == low {
		t.Error("the case was changed")
	}
	if len(more.Readings) != 3 || !more.Readings[2].Disagrees || more.Readings[1].Where != "crown" || !near(more.Readings[1].Value, 3.505) {
		t.Errorf("%+v", *more)
	}
	if !slices.IsSortedFunc(more.Readings, func(a, b *casefile.Reading) int { return strings.Compare(a.Observable.Name, b.Observable.Name) }) {
		t.Error("the readings are out of order")
	}
}

func TestSourcesUseTheHouseInstrument(t *testing.T) {
	house := load.Layer{Name: "house", FS: os.DirFS("testdata/house")}
	rs := loaded(t, house)
	s := Sources(rs, rs.Test("hydrostatic-weighing"))[0]
	if r := s.Value(3.5); r.U != 0.004 || r.Instrument != "balance" || r.Blunder != 0.002 || s.Limits != [2]float64{1.5, 7} {
		t.Errorf("%+v %v", *r, s.Limits)
	}
	// What intake makes of the same reading.
	c := read(t, rs, "case: c\nreadings: {specific_gravity: 3.5}\n")
	if r := s.Value(3.5); r.U != c.Readings[0].U || r.Blunder != c.Readings[0].Blunder || r.Instrument != c.Readings[0].Instrument {
		t.Errorf("intake %+v, possible %+v", *c.Readings[0], *r)
	}
	if r := s.Value(7.5); r.Form != casefile.Interval || !math.IsInf(r.Hi, 1) || r.Lo <= 7 || r.Lo > 7.0001 {
		t.Errorf("beyond the limit: %+v", *r)
	}
	if r := s.Value(1.2); r.Form != casefile.Interval || !math.IsInf(r.Lo, -1) || r.Hi >= 1.5 {
		t.Errorf("below the limit: %+v", *r)
	}
}

func TestNeeds(t *testing.T) {
	rs := loaded(t)
	check := func(stone, test string) eval.Needs {
		run := eval.New(rs)
		run.Do(read(t, rs, "case: c\nstone: "+stone+"\nreadings: {}\n"), time.Date(2031, 1, 1, 0, 0, 0, 0, time.UTC))
		return run.Needs(rs.Test(test))
	}
	if n := check("{mounted: true, carat: 1}", "hydrostatic-weighing"); n.Feasible() || len(n.Missing) != 1 {
		t.Errorf("mounted: %+v", n)
	}
	if n := check("{mounted: false, carat: 1}", "hydrostatic-weighing"); !n.Feasible() || len(n.Unknown) != 0 {
		t.Errorf("loose: %+v", n)
	}
	if n := check("{carat: 1}", "hydrostatic-weighing"); !n.Feasible() || len(n.Unknown) != 1 {
		t.Errorf("not said: %+v", n)
	}
}

// TestExpectedFitsItsSheet holds that what a test is expected to read of a material never excludes it, and that the
// refractometer gives two rays exactly where there are two below its limit.
func TestExpectedFitsItsSheet(t *testing.T) {
	rs := loaded(t)
	rays := 0
	for _, m := range rs.Leaves {
		for _, test := range rs.Tests {
			for _, r := range Expected(rs, test, m) {
				switch r.Form {
				case casefile.Choice:
					if f := m.Choices[r.Observable.Name]; f.Words[r.Observable.Outcomes[r.Outcome].Name] == "never" {
						t.Errorf("%s: %s is expected and never so", m.ID, r.Observable.Name)
					}
				case casefile.Value:
					if g := m.Ranges[r.Observable.Property]; r.Value < g.Low || r.Value > g.High {
						t.Errorf("%s: %s of %g is expected outside the range", m.ID, r.Observable.Name, r.Value)
					}
				case casefile.Pair:
					rays++
					if g := m.Ranges[vocab.RefractiveIndex]; r.Value < g.Low-1e-9 || r.High > g.High+1e-9 || r.High <= r.Value {
						t.Errorf("%s: rays %g and %g are expected outside %g to %g", m.ID, r.Value, r.High, g.Low, g.High)
					}
				}
			}
		}
	}
	if rays == 0 {
		t.Error("no full turn is expected of anything")
	}
}
