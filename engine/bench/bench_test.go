package bench_test

import (
	"errors"
	"math"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"whystone/engine"
	"whystone/engine/bench"
	"whystone/engine/enginetest"
	"whystone/kb"
	"whystone/kb/load"
	"whystone/kb/physics"
)

func house(policy string) load.Layer {
	return load.Layer{Name: "house", FS: fstest.MapFS{"house.yaml": {Data: []byte("format: 1\npolicy:\n" + policy)}}}
}

// What is said to be ruled out is what the engine excludes by that reading, and what is not is not.
func TestNeighboursAreWhatTheEngineExcludes(t *testing.T) {
	rs := enginetest.Ruleset(t)
	j := engine.Prepare(rs).NewJudge()
	balance := bench.Balances(rs)[0]
	checked := 0
	for _, carat := range []string{"0.3", "1.02", "5"} {
		for _, sg := range []string{"2.65", "3.2", "3.52", "4.6", "5.9"} {
			c := enginetest.Case(t, rs, carat, "case: A\ntaken: 2031-03-06\nstone: {carat: "+carat+
				"}\nreadings: {specific_gravity: "+sg+"}\n")
			excluded := map[string]bool{}
			for _, x := range j.Explain(c, engine.Moment{On: time.Date(2031, 3, 6, 0, 0, 0, 0, time.UTC),
				DatedBy: "taken"}).Excluded {
				excluded[x.Material] = true
			}
			r := c.Readings[0]
			for _, n := range bench.Neighbours(rs, physics.AtADesk(*c.Stone.Carat, balance), r.Value, r.U) {
				if checked++; n.RuledOut != excluded[n.Material.ID] {
					t.Errorf("%s ct of %s: %s ruled out: %v, excluded: %v", carat, sg, n.Material.ID, n.RuledOut,
						excluded[n.Material.ID])
				}
			}
		}
	}
	if checked < 500 {
		t.Errorf("only %d checked", checked)
	}
}

// From the weight that is told on, and not below it, a material is ruled out.
func TestTheWeightThatItTakes(t *testing.T) {
	rs := enginetest.Ruleset(t)
	w := physics.AtADesk(1, 0.002)
	told := 0
	for _, n := range bench.Neighbours(rs, w, 3.52, 0.03) {
		if n.FromCarat == 0 {
			continue
		}
		told++
		for factor, out := range map[float64]bool{1.01: true, 0.99: false} {
			if got := bench.Told(rs, w, 3.52, n.FromCarat*factor) < n.Gap; got != out {
				t.Errorf("%s, from %g ct on: at %g of that %v", n.Material.ID, n.FromCarat, factor, got)
			}
		}
	}
	if told < 20 {
		t.Errorf("a weight is told of %d materials", told)
	}
	if x := bench.Told(rs, w, 3.52, 0.001); !math.IsInf(x, 1) {
		t.Errorf("a stone of a thousandth of a carat is told to %g", x)
	}
}

// A sheet's tolerance widens its range, by hand.
func TestToleranceOfANeighbour(t *testing.T) {
	leaf := func(id string, tolerance float64) *kb.Material {
		return &kb.Material{ID: id, Ranges: map[string]*kb.Range{bench.Gravity: {Low: 3, High: 3.1,
			Tolerance: tolerance}}}
	}
	rs := &kb.Ruleset{Policy: &kb.Policy{Misfit: 4}, Leaves: []*kb.Material{leaf("strict", 0), leaf("wide", 0.05)}}
	near := bench.BySize(rs, 3.22, 0.025) // 0.12 above either, and 4 u is 0.1
	if len(near) != 2 || near[0].Material.ID != "wide" || near[0].RuledOut || !near[1].RuledOut ||
		math.Abs(near[0].Gap-0.07) > 1e-12 {
		t.Errorf("%+v", near)
	}
}

// A balance is the house's own where it has one.
func TestBalances(t *testing.T) {
	for _, c := range []struct {
		policy string
		want   []float64
	}{
		{"  rival: 10\n", []float64{0.002}},
		{"  instruments: [{instrument: fine, test: hydrostatic-weighing, repeats_to_ct: 0.0005}, {instrument: probe, " +
			"test: thermal-probe}]\n",
			[]float64{0.0005}},
	} {
		got := bench.Balances(enginetest.Ruleset(t, house(c.policy)))
		if len(got) != len(c.want) || got[0] != c.want[0] {
			t.Errorf("%s has %v, want %v", c.policy, got, c.want)
		}
	}
}

func TestSizeRefusals(t *testing.T) {
	rs := enginetest.Ruleset(t)
	m := func(v float64) bench.Measured { return bench.Measured{Value: v} }
	for mm, ct := range map[float64]float64{3.4: 0.15, 6.5: 1, 12: 6.5} { // small and large brilliants weigh as they do
		s := bench.Size{Cut: "round brilliant", Length: m(mm), Width: m(mm), Depth: m(0.61 * mm)}
		b, _, err := s.Weight(rs, m(3.52))
		if err != nil || math.Abs(b.Value/ct-1) > 0.05 {
			t.Errorf("a brilliant of %g mm: %v, %v", mm, b, err)
		}
	}
	for want, s := range map[string]bench.Size{
		"An outline with a factor of its own": {Cut: "wedge", Carat: m(1), Length: m(6), Width: m(6), Depth: m(4)},
		"Look at the measurements":            {Cut: "oval", Carat: m(1), Length: m(6), Width: m(6), Depth: m(400)},
	} {
		if _, _, err := s.Gravity(rs); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v: %v, and %q is wanted", s, err, want)
		}
	}
	for name, s := range map[string]bench.Size{
		"no depth":       {Cut: "oval", Carat: m(1), Length: m(6), Width: m(6)},
		"no such cut":    {Cut: "wedge", Carat: m(1), Length: m(6), Width: m(6), Depth: m(4)},
		"next to weight": {Cut: "oval", Carat: m(0.01), Length: m(6), Width: m(6), Depth: m(4)},
		"all unsure":     {Cut: "oval", Carat: m(1), Length: bench.Measured{Value: 6, U: 7}, Width: m(6), Depth: m(4)},
	} {
		if b, _, err := s.Gravity(rs); !errors.Is(err, physics.ErrRange) {
			t.Errorf("%s: %v, %v", name, b, err)
		}
	}
	if b, _, err := (bench.Size{Cut: "oval", Length: m(1), Width: m(1), Depth: m(1)}).Weight(rs,
		m(3.5)); !errors.Is(err, physics.ErrRange) {
		t.Errorf("a stone too small for its sheet: %v, %v", b, err)
	}
}
