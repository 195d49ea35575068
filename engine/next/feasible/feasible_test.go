package feasible

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

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

// TestWithIsWhatIntakeMakes draws two to six readings of one observable, some from the crown, and writes them all as
// repeats in a case file: what intake makes of them is what comes of them when they are added one after the other.
func TestWithIsWhatIntakeMakes(t *testing.T) {
	rs := loaded(t)
	rng := rand.New(rand.NewPCG(2, 7))
	kinds := map[string]int{}
	for range 1500 {
		o := rs.Vocabulary.Observables[rng.IntN(len(rs.Vocabulary.Observables))]
		texts := make([]string, 2+rng.IntN(5))
		for i := range texts {
			texts[i] = drawReading(rng, o)
		}
		all := read(t, rs, fmt.Sprintf("case: all\nreadings: {%s: [%s]}\n", o.Name, strings.Join(texts, ", ")))
		one := &casefile.Case{ID: "all"}
		for _, text := range texts {
			one = With(one, read(t, rs, fmt.Sprintf("case: one\nreadings: {%s: %s}\n", o.Name, text)).Readings[0])
		}
		got, want := one.Readings[0], all.Readings[0]
		kinds[fmt.Sprint(o.Kind, got.Form == casefile.Inconclusive, len(texts) > 2)]++
		if diff := cmp.Diff(want, got, cmpopts.IgnoreFields(casefile.Reading{}, "Observable", "Parts", "Span"),
			cmpopts.EquateNaNs()); diff != "" || len(one.Readings) != 1 {
			t.Fatalf("%s: %s (intake -, with +)\n%s", o.Name, strings.Join(texts, ", "), diff)
		}
	}
	if len(kinds) < 10 {
		t.Errorf("few kinds of repeat were met: %v", kinds)
	}
}

// TestThirdRepeat is three weighings of which the first two agree and so do the last two, but not the first and the
// third: they disagree, in whichever order they are added.
func TestThirdRepeat(t *testing.T) {
	rs := loaded(t)
	weighed := func(x float64) *casefile.Reading {
		return read(t, rs, fmt.Sprintf("case: c\nreadings: {specific_gravity: {value: %g, uncertainty: 0.02}}\n",
			x)).Readings[0]
	}
	for _, order := range [][3]float64{{3.50, 3.54, 3.565}, {3.54, 3.50, 3.565}, {3.565, 3.50, 3.54}} {
		c := With(With(With(&casefile.Case{}, weighed(order[0])), weighed(order[1])), weighed(order[2]))
		if r := c.Readings[0]; r.Usable() || !r.Disagrees || len(r.Parts) != 3 {
			t.Errorf("%v: %+v", order, *r)
		}
	}
}

// TestWithBesideABound holds the rows of a value beside a bound: it agrees within twice its uncertainty, as at intake.
func TestWithBesideABound(t *testing.T) {
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
		one := read(t, rs, "case: c\nreadings: {specific_gravity: "+x.value+"}\n")
		other := read(t, rs, "case: c\nreadings: {specific_gravity: "+x.bound+"}\n")
		for _, got := range []*casefile.Reading{With(one, other.Readings[0]).Readings[0],
			With(other, one.Readings[0]).Readings[0]} {
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
	return fmt.Sprintf("{value: %g, uncertainty: %g}", x+rng.Float64()*(o.Span[1]-o.Span[0])/500,
		(o.Span[1]-o.Span[0])/1000)
}

func TestWithLeavesTheCaseAlone(t *testing.T) {
	rs := loaded(t)
	c := read(t, rs, "case: c\nreadings: {thermal_probe: diamond range, specific_gravity: {value: 3.5, where: crown}}\n")
	before := slices.Clone(c.Readings)
	probe := Sources(rs, &casefile.Case{}, rs.Test("thermal-probe"))[0]
	low, _ := probe.Observable.Outcome("below diamond range")
	weighing := Sources(rs, &casefile.Case{}, rs.Test("hydrostatic-weighing"))[0]
	more := With(c, probe.Choice(low), weighing.Value(3.51), Sources(rs, &casefile.Case{},
		rs.Test("loupe-doubling"))[0].Choice(0))
	if len(c.Readings) != 2 || !slices.Equal(c.Readings, before) || c.Readings[1].Outcome == low {
		t.Error("the case was changed")
	}
	if len(more.Readings) != 3 || !more.Readings[2].Disagrees || more.Readings[1].Where != "crown" ||
		!near(more.Readings[1].Value, 3.505) {
		t.Errorf("%+v", *more)
	}
	if !slices.IsSortedFunc(more.Readings, func(a, b *casefile.Reading) int {
		return strings.Compare(a.Observable.Name,
			b.Observable.Name)
	}) {
		t.Error("the readings are out of order")
	}
}

func TestSourcesUseTheHouseInstrument(t *testing.T) {
	house := load.Layer{Name: "house", FS: os.DirFS("testdata/house")}
	rs := loaded(t, house)
	s := Sources(rs, &casefile.Case{}, rs.Test("hydrostatic-weighing"))[0]
	if r := s.Value(3.5); r.U != 0.004 || r.Instrument != "balance" || r.Blunder != 0.002 ||
		s.Limits != [2]float64{1.5, 7} {
		t.Errorf("%+v %v", *r, s.Limits)
	}
	// What intake makes of the same reading.
	c := read(t, rs, "case: c\nreadings: {specific_gravity: 3.5}\n")
	if r := s.Value(3.5); r.U != c.Readings[0].U || r.Blunder != c.Readings[0].Blunder ||
		r.Instrument != c.Readings[0].Instrument {
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
			for _, r := range Expected(rs, &casefile.Case{}, test, m) {
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
					if g := m.Ranges[vocab.RefractiveIndex]; r.Value < g.Low-1e-9 || r.High > g.High+1e-9 ||
						r.High <= r.Value {
						t.Errorf("%s: rays %g and %g are expected outside %g to %g", m.ID, r.Value, r.High, g.Low,
							g.High)
					}
				}
			}
		}
	}
	if rays == 0 {
		t.Error("no full turn is expected of anything")
	}
}

// TestSourceReadsAsIntakeDoes draws stones and values, and holds a hypothetical reading against what intake makes of
// the same value on the same stone: uncertainty, blunder rate and instrument, of the shipped tests and of a house with
// instruments.
func TestSourceReadsAsIntakeDoes(t *testing.T) {
	followed := 0
	for _, rs := range []*kb.Ruleset{loaded(t), loaded(t, load.Layer{Name: "house", FS: os.DirFS("testdata/house")})} {
		rng := rand.New(rand.NewPCG(5, 9))
		for range 400 {
			test := rs.Tests[rng.IntN(len(rs.Tests))]
			stone := fmt.Sprintf("{mounted: %v, carat: %.2f, cut: [round brilliant, oval, cushion][%d]}",
				rng.IntN(2) == 0, 0.1+3*rng.Float64(), 0)
			stone = strings.ReplaceAll(stone, "[round brilliant, oval, cushion][0]",
				[]string{"round brilliant", "oval", "cushion"}[rng.IntN(3)])
			if rng.IntN(5) == 0 {
				stone = "{}"
			}
			c := read(t, rs, "case: c\nstone: "+stone+"\nreadings: {}\n")
			for _, s := range Sources(rs, c, test) {
				if s.Observable.Kind != vocab.Quantity || len(test.Derived) > 0 {
					continue
				}
				x := s.Limits[0] + (s.Limits[1]-s.Limits[0])*float64(1+rng.IntN(98))/100
				got := s.Value(x)
				want := read(t, rs, fmt.Sprintf("case: c\nstone: %s\nreadings: {%s: {value: %.17g, test: %s}}\n", stone,
					s.Observable.Name, x, test.ID)).Readings[0]
				if got.U != want.U || got.HighU != want.HighU || got.Noise != want.Noise ||
					got.Blunder != want.Blunder || got.Instrument != want.Instrument || got.Value != want.Value {
					t.Fatalf("%s of %s at %g on %s\n intake %+v\n here   %+v", test.ID, s.Observable.Name, x, stone,
						*want, *got)
				}
				if s.U(s.Limits[0]) != s.U(x) {
					followed++
				}
			}
		}
	}
	if followed == 0 {
		t.Error("no uncertainty follows from the stone")
	}
}

// TestWhatIsComputedFromTheStone: a density from weight and measurements has the uncertainty that its sheet gives on
// this stone, mounted or loose, before it is measured.
func TestWhatIsComputedFromTheStone(t *testing.T) {
	rs := loaded(t)
	at := map[bool]float64{}
	for _, mounted := range []bool{true, false} {
		stone := fmt.Sprintf("mounted: %v, carat: 0.9, cut: round brilliant", mounted)
		c := read(t, rs, "case: c\nstone: {"+stone+"}\nreadings: {}\n")
		s := Sources(rs, c, rs.Test("weight-against-size"))[0]
		measured := read(t, rs, "case: c\nstone: {"+stone+
			", length_mm: 6.2, width_mm: 6.25, depth_mm: 3.8}\nreadings: {}\n").Readings
		if len(measured) != 1 {
			t.Fatalf("%d readings", len(measured))
		}
		got, want := s.Value(measured[0].Value), measured[0]
		if math.Abs(got.U-want.U) > 1e-12 || got.Blunder != want.Blunder || !got.Derived {
			t.Errorf("%s: intake %+v, here %+v", stone, *want, *got)
		}
		at[mounted] = got.U
	}
	if at[true] <= 2*at[false] {
		t.Errorf("mounted %g, loose %g", at[true], at[false])
	}
}
