package bench_test

import (
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"whystone/engine"
	"whystone/engine/bench"
	"whystone/engine/enginetest"
	"whystone/kb"
	"whystone/kb/vocab"
)

var taken = engine.Moment{On: time.Date(2031, 3, 6, 0, 0, 0, 0, time.UTC), DatedBy: "taken"}

// separate is one line of what separates two materials on a stone, or nil.
func separate(t *testing.T, rs *kb.Ruleset, stone, a, b, test, observable string) *bench.Separation {
	t.Helper()
	c := enginetest.Case(t, rs, "stone", "case: A\ntaken: 2031-03-06\nstone: {"+stone+"}\n")
	for _, l := range bench.Separate(engine.Prepare(rs), c, taken, rs.Node(a), rs.Node(b)) {
		if l.Test.ID == test && l.Observable.Name == observable {
			return l
		}
	}
	return nil
}

// What settles a quantity is reckoned by hand from the two sheets and the law of propagation.
func TestSeparateByWeighing(t *testing.T) {
	rs := enginetest.Ruleset(t)
	l := separate(t, rs, "carat: 0.88, mounted: false", "natural-diamond", "synthetic-moissanite",
		"hydrostatic-weighing", "specific_gravity")
	heavy, light := rs.Node("natural-diamond").Ranges["specific_gravity"],
		rs.Node("synthetic-moissanite").Ranges["specific_gravity"]
	gap := heavy.Low - light.High
	// Two weighings to 0.002 ct of a stone that loses carat/SG: SG²/carat sqrt(1 + (1 - 1/SG)²) 0.002.
	u := heavy.Low * heavy.Low / 0.88 * math.Sqrt(1+math.Pow(1-1/heavy.Low, 2)) * 0.002
	if l == nil || math.Abs(l.Gap-gap) > 1e-12 || math.Abs(l.U/u-1) > 0.01 || !l.Settles ||
		math.Abs(l.Sigmas()-gap/u) > 0.1 {
		t.Fatalf("%+v, want a gap of %g at ± %g", l, gap, u)
	}
	least := rs.Policy.Misfit * u / (gap - max(heavy.Tolerance, light.Tolerance)) * 0.88
	if math.Abs(l.FromCarat/least-1) > 0.03 {
		t.Errorf("from %g ct on, by hand %g", l.FromCarat, least)
	}
	for carat, settles := range map[float64]bool{l.FromCarat * 1.02: true, l.FromCarat * 0.98: false} {
		got := separate(t, rs, fmt.Sprintf("carat: %g, mounted: false", carat), "natural-diamond",
			"synthetic-moissanite", "hydrostatic-weighing", "specific_gravity")
		if got.Settles != settles {
			t.Errorf("at %g ct: %v", carat, got.Settles)
		}
	}
	for i, r := range l.Ratio {
		if r < 100 {
			t.Errorf("a reading that settles it is only %g times likelier on material %d", r, i)
		}
	}
}

// A test whose need fails is impossible, and told from which weight on it is not; one whose ranges never settle it
// says so.
func TestSeparateWhatIsImpossible(t *testing.T) {
	rs := enginetest.Ruleset(t)
	l := separate(t, rs, "carat: 0.03, mounted: true", "natural-diamond", "synthetic-moissanite",
		"hydrostatic-weighing", "specific_gravity")
	if l == nil || len(l.Missing) == 0 || !l.Never {
		t.Errorf("weighing a mounted stone: %+v", l)
	}
	l = separate(t, rs, "carat: 0.03, mounted: false", "natural-diamond", "synthetic-moissanite",
		"hydrostatic-weighing", "specific_gravity")
	if l == nil || len(l.Missing) > 0 || l.Settles || l.FromCarat < 0.3 {
		t.Errorf("weighing a stone of 0.03 ct: %+v", l)
	}
	l = separate(t, rs, "carat: 0.05", "natural-diamond", "synthetic-moissanite", "reflectivity", "reflectance")
	for _, x := range rs.Tests {
		if l == nil && slices.ContainsFunc(x.Yields,
			func(y *vocab.Yield) bool { return y.Observable.Name == "reflectance" }) {
			l = separate(t, rs, "carat: 0.05", "natural-diamond", "synthetic-moissanite", x.ID, "reflectance")
		}
	}
	if l == nil || len(l.Missing) == 0 || math.Abs(l.FromCarat-0.1) > 0.001 {
		t.Errorf("reflectance of a small stone: %+v", l)
	}
	if l := separate(t, rs, "carat: 3, mounted: false", "natural-diamond", "hpht-diamond", "hydrostatic-weighing",
		"specific_gravity"); l != nil {
		t.Errorf("natural and grown diamond by weighing: %+v", l)
	}
}

// A reading that is there is told with what it says, which is what the engine makes of it alone.
func TestSeparateTellsWhatWasRead(t *testing.T) {
	rs := enginetest.Ruleset(t)
	e := engine.Prepare(rs)
	c := enginetest.Demo(t, rs)["01-probe-says-diamond"]
	a, b := rs.Node("natural-diamond"), rs.Node("synthetic-moissanite")
	found := 0
	for _, l := range bench.Separate(e, c, taken, a, b) {
		if l.Read == nil {
			continue
		}
		found++
		alone := *c
		alone.Readings = nil
		alone.Add(l.Read)
		j := e.NewJudge()
		var d engine.Decision
		j.Decide(&alone, taken.On, &d)
		if want := math.Exp(j.Likelihood(a.Leaves[0]) - j.Likelihood(b.Leaves[0])); math.Abs(l.Found/want-1) > 1e-9 {
			t.Errorf("%s: %g, alone it says %g", l.Observable.Name, l.Found, want)
		}
	}
	if found < 4 {
		t.Errorf("only %d readings are told", found)
	}
}
