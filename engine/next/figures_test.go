package next

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"whystone/engine"
	"whystone/engine/next/feasible"
	"whystone/kb/casefile"
)

// TestRepeatIsWorthLittle does the tests of small models once more, after each outcome: on the average a repeat of a
// choice is worth next to nothing beside what the test was worth when it was new. (After a surprising outcome it is
// worth something: it may have been a blunder.) A repeat of a value makes it sharper by the square root of two, which
// counts where it lies at the end of a range.
func TestRepeatIsWorthLittle(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 1))
	fresh, again := map[string]float64{}, map[string]float64{}
	for range rounds(30) {
		m := drawModel(rng, 1)
		rs := m.load(t)
		a := New(engine.Prepare(rs))
		c := &casefile.Case{ID: "model"}
		for i, mt := range m.tests {
			id := m.names("test", i)
			if mt.kind == "feature" {
				continue // one that was looked for is not looked for again
			}
			fresh[mt.kind] += find(a.Next(c, noon, Options{}), id).EntropyDrop
			b := a.lay(c, noon, Options{})
			for _, o := range a.players[0].outcomes(c, look{source: sourceOf(rs, id), feature: -1}, b.w, coarse) {
				s := find(a.Next(feasible.With(c, o.reading), noon, Options{}), id)
				if !s.Again {
					t.Errorf("%s: a repeat is not told as one", mt.kind)
				}
				again[mt.kind] += o.mass * s.EntropyDrop
			}
		}
	}
	t.Logf("new: %v; again: %v", fresh, again)
	if part := again["choice"] / fresh["choice"]; part > 0.02 || fresh["choice"] == 0 {
		t.Errorf("repeats of choices are worth %g of what the tests were new", part)
	}
	if part := again["quantity"] / fresh["quantity"]; part > 0.25 || fresh["quantity"] == 0 {
		t.Errorf("repeats of quantities are worth %g of what the tests were new", part)
	}
}

// TestRepeatOnTheDesk repeats every test of every demo case that is not contradictory: none is worth a tenth of a nat.
func TestRepeatOnTheDesk(t *testing.T) {
	e := engine.Prepare(loaded(t))
	a := New(e)
	each(demoCases(t, e.Ruleset), func(name string, c *casefile.Case) {
		got := a.Next(c, noon, Options{})
		if got.Action == Repeat {
			return
		}
		for _, s := range got.Tests {
			if s.Again && s.EntropyDrop > 0.1 {
				t.Errorf("%s: %s again is worth %g nats", name, s.Test, s.EntropyDrop)
			}
		}
	})
}

// TestFurtherOfAFamily holds that a second test of a family that was read tells less than a first one of another family
// that speaks alike.
func TestFurtherOfAFamily(t *testing.T) {
	e := engine.Prepare(loaded(t))
	a := New(e)
	c := read(t, e.Ruleset, "family", walkStone)
	fresh := find(a.Next(c, noon, Options{}), "breath-fog").EntropyDrop
	probe := sourceOf(e.Ruleset, "thermal-probe")
	i, _ := probe.Observable.Outcome("diamond range")
	if after := find(a.Next(feasible.With(c, probe.Choice(i)), noon, Options{}),
		"breath-fog").EntropyDrop; after > fresh/4 {
		t.Errorf("breath on the stone is worth %g nats, after the thermal probe still %g", fresh, after)
	}
}

// TestStretchesRise holds that the stretches of a quantity follow on each other and cover all that the test can read,
// and that each is played by a value within it.
func TestStretchesRise(t *testing.T) {
	e := engine.Prepare(loaded(t))
	a := New(e)
	c := read(t, e.Ruleset, "rise", walkStone)
	b := a.lay(c, noon, Options{})
	for _, test := range []string{"hydrostatic-weighing", "reflectivity-meter", "spot-reading"} {
		s := sourceOf(e.Ruleset, test)
		at := s.Limits[0]
		for _, o := range a.players[0].outcomes(c, look{source: s, feature: -1}, b.w, fine) {
			if o.reading.Form != casefile.Value {
				continue
			}
			if math.Abs(o.lo-at) > 0.05*(s.Limits[1]-s.Limits[0]) || o.hi < o.lo || o.reading.Value < o.lo ||
				o.reading.Value > o.hi {
				t.Errorf("%s: %g to %g, played by %g, after %g", test, o.lo, o.hi, o.reading.Value, at)
			}
			at = o.hi
		}
		if math.Abs(at-s.Limits[1]) > 0.05*(s.Limits[1]-s.Limits[0]) {
			t.Errorf("%s: the stretches end at %g", test, at)
		}
	}
}

// TestMeshIsFineEnough compares the figures of the mesh in use with those of a much finer one on real cases.
func TestMeshIsFineEnough(t *testing.T) {
	e := engine.Prepare(loaded(t))
	a := New(e)
	finer := mesh{points: 4, parts: 2, grain: 1.0 / 1000, least: 1e-5}
	worst := 0.0
	each(demoCases(t, e.Ruleset), func(name string, c *casefile.Case) {
		if testing.Short() && !strings.HasPrefix(name, "02") {
			return
		}
		x, y := a.lay(c, noon, Options{}), a.lay(c, noon, Options{mesh: finer})
		for _, test := range x.able {
			if len(test.Yields) > 3 {
				continue // many features, no values
			}
			s, f := x.suggest(a.players[0], test), y.suggest(a.players[0], test)
			if s.test == nil {
				continue
			}
			for i := range s.looks {
				k := slices.IndexFunc(f.looks, func(g figures) bool {
					return g.look.source.Observable == s.looks[i].look.source.Observable &&
						g.look.feature == s.looks[i].look.feature
				})
				gap := math.Abs(max(0, s.looks[i].drop) - max(0, f.looks[k].drop)) // below zero both tell nothing
				worst = math.Max(worst, gap)
				if gap > 0.02+0.02*f.looks[k].drop {
					t.Errorf("%s, %s: %g nats, finer %g", name, test.ID, s.looks[i].drop, f.looks[k].drop)
				}
			}
		}
	})
	t.Logf("the largest difference is %.4f nats", worst)
}
