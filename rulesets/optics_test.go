package rulesets_test

import (
	"fmt"
	"math"
	"testing"

	"whystone/kb/physics"
	uncertain "whystone/kb/quantity"
)

// What the sheet reckons for an index by least deviation is what the law of propagation (JCGM 100:2008, 5.1.2) gives
// for the two angles, by the same formula and figures as `reckon optics index` has it, to the last digit that is
// printed.
func TestLeastDeviationIsAsGoodAsItsAngles(t *testing.T) {
	rs := desk(t)
	const prism, reads = 40.0, 0.05
	for _, index := range []float64{1.434, 1.544, 1.62, 1.77, 1.90, 2.16, 2.417, 2.65} {
		deviation, err := physics.DeviationOf(index, prism)
		if err != nil {
			t.Fatal(err)
		}
		if back, err := physics.LeastDeviation(prism, deviation); err != nil || math.Abs(back-index) > 1e-12 {
			t.Errorf("%g deviates by %g, and that is an index of %g (%v)", index, deviation, back, err)
		}
		budget, err := uncertain.Propagate([]uncertain.Input{{Name: "angle", Value: prism, U: reads},
			{Name: "deviation", Value: deviation, U: reads}},
			func(x []float64) (float64, error) { return physics.LeastDeviation(x[0], x[1]) })
		if err != nil {
			t.Fatal(err)
		}
		c := caseOf(t, rs, map[string]any{"readings": map[string]any{"ri": map[string]any{"value": index,
			"test": "prism-spectrometer"}}})
		if r := c.Readings[0]; uncertain.Text(r.Value, r.U) != uncertain.Text(index, budget.U) ||
			math.Abs(r.U-budget.U) > 1e-4*budget.U {
			t.Errorf("%g: the sheet has %s (u %.7g), the law of propagation %s (u %.7g)", index,
				uncertain.Text(r.Value, r.U), r.U, uncertain.Text(index, budget.U), budget.U)
		}
	}
	// An index that a prism of this angle lets no light of through was not read with it.
	c := caseOf(t, rs, map[string]any{"readings": map[string]any{"ri": map[string]any{"value": 2.95,
		"test": "prism-spectrometer"}}})
	if got := c.Readings[0].U; got != 0.003 {
		t.Errorf("of an index that the prism reflects totally: %g", got)
	}
}

// A reading of reflectance is as good as the meter repeats and its scale is true: the index that `reckon optics index`
// makes of it has that uncertainty through Fresnel's equation.
func TestReflectanceIsAsGoodAsItsMeter(t *testing.T) {
	rs := desk(t)
	for _, percent := range []float64{4.3, 8.6, 13.5, 17.2, 20.9} {
		want := math.Sqrt(0.5*0.5 + 0.02*percent*0.02*percent)
		c := caseOf(t, rs, map[string]any{"stone": map[string]any{"carat": 1},
			"readings": map[string]any{"reflectance": percent}})
		if got := c.Readings[0].U; math.Abs(got-want) > 1e-12 {
			t.Errorf("%g percent: %g, the figures give %g", percent, got, want)
		}
		index, h := physics.IndexFromReflectance(percent), 1e-6
		slope := (physics.IndexFromReflectance(percent+h) - physics.IndexFromReflectance(percent-h)) / (2 * h)
		budget, err := uncertain.Propagate([]uncertain.Input{{Name: "reflectance", Value: percent, U: want}},
			func(x []float64) (float64, error) { return physics.IndexFromReflectance(x[0]), nil })
		if err != nil || fmt.Sprintf("%.3g", budget.First) != fmt.Sprintf("%.3g", slope*c.Readings[0].U) {
			t.Errorf("%g percent, index %.3f: %.6g by the budget, %.6g by the reading (%v)", percent, index,
				budget.First, slope*c.Readings[0].U, err)
		}
	}
}
