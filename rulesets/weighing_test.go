package rulesets_test

import (
	"math"
	"testing"
)

// weighedTo is the standard uncertainty of W / (W - P) where both weighings, in air and in water, repeat to the same
// spread, by the law of propagation (JCGM 100:2008, 5.1.2) with numerical derivatives.
func weighedTo(density, carat, spread float64) float64 {
	inWater, h := carat*(1-1/density), 1e-7
	of := func(w, p float64) float64 { return w / (w - p) }
	dw := (of(carat+h, inWater) - of(carat-h, inWater)) / (2 * h)
	dp := (of(carat, inWater+h) - of(carat, inWater-h)) / (2 * h)
	return math.Hypot(dw, dp) * spread
}

// What the sheet reckons for a stone's weight is never less than the law of propagation gives for the two weighings
// alone, and hardly more: temperature and air bring a little on large stones, and the second order on those that lose
// hardly more than the spread. The sheet's text says what comes of it for diamond.
func TestWeighingInWaterIsAsGoodAsTheBalanceAndTheStone(t *testing.T) {
	rs := desk(t)
	read := func(density, carat float64) float64 {
		c := caseOf(t, rs, map[string]any{"stone": map[string]any{"carat": carat},
			"readings": map[string]any{"specific_gravity": density}})
		return c.Readings[0].U
	}
	for _, density := range []float64{1.18, 2.65, 3.22, 3.52, 5.8, 7.05} {
		for _, carat := range []float64{0.1, 0.22, 0.5, 1, 2, 10} {
			law, own := weighedTo(density, carat, 0.002), read(density, carat)
			if own < law*0.999 || own > math.Hypot(law, 0.001*density)*(1.01+10*math.Pow(0.002*density/carat, 2)) {
				t.Errorf("density %g, %g ct: the sheet has %.4f, the law of propagation %.4f", density, carat, own, law)
			}
		}
	}
	for carat, want := range map[float64]float64{0.22: 0.14, 0.5: 0.06, 1: 0.031, 2: 0.015} {
		if got := read(3.52, carat); math.Abs(got-want) > 0.03*want {
			t.Errorf("diamond of %g ct: %.4f, the sheet says %g", carat, got, want)
		}
	}
	if got := caseOf(t, rs, map[string]any{"readings": map[string]any{"specific_gravity": 3.52}}).Readings[0].U; got < 0.035 {
		t.Errorf("a stone of unknown weight is read to %g, better than one of a carat", got)
	}
}
