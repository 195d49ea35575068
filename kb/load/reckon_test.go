package load_test

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"whystone/kb/casefile"
	"whystone/kb/eval"
	"whystone/kb/load/loadtest"
)

const weighed = `format: 1
tests:
  - test: plunge
    name: weighing in water
    harm: contact
    source: invented
    replaces: weighing
    because: Ours says what its uncertainty follows from.
    yields:
      specific_gravity:
        kind: quantity
        family: density
        unit: "1"
        span: [1, 8]
        uncertainty: "value / stone.carat * repeats_to_ct * sqrt((value - 1) ** 2 + value ** 2)"
        otherwise: 0.02
        figures: {repeats_to_ct: 0.002, unused_mm: }
        blunder: 0.01
  - {test: spring-balance, name: spring balance, harm: contact, source: invented, yields: {specific_gravity: {blunder: 0.2}}}
  - {test: heavy-liquid, name: heavy liquid, harm: contact, source: invented, yields: {specific_gravity: {uncertainty: 0.05}}}
  - test: total-reflection
    name: total reflection
    harm: contact
    source: invented
    yields: {ri: {uncertainty: "(value - 1) * dispersion * (1 - stone.width_mm / 100)", otherwise: 0.004, figures: {dispersion: null}}}
retires: [{rule: over-the-limit, because: It calls for a weighing.}, {rule: wet-stone, because: So does it.}, {rule: dense-for-its-index, because: It reads a fact.}]
policy:
  instruments:
    - {instrument: plain-balance, test: plunge}
    - {instrument: fine-balance, test: plunge, repeats_to_ct: 0.0005}
    - {instrument: sure-balance, test: plunge, repeats_to_ct: 0.0005, uncertainty: 0.3}
    - {instrument: old-spring, test: spring-balance, repeats_to_ct: 0.05}
    - {instrument: prism, test: total-reflection, observable: ri, dispersion: 0.01}
`

// densityBy is the uncertainty of W/(W-P) where both weighings repeat to u, by the law of propagation (JCGM 100:2008,
// 5.1.2) with numerical derivatives.
func densityBy(density, carat, u float64) float64 {
	inWater, h := carat*(1-1/density), 1e-7
	sg := func(w, p float64) float64 { return w / (w - p) }
	dw := (sg(carat+h, inWater) - sg(carat-h, inWater)) / (2 * h)
	dp := (sg(carat, inWater+h) - sg(carat, inWater-h)) / (2 * h)
	return math.Hypot(dw*u, dp*u)
}

// TestReckon: what a reading's uncertainty is: its own; the instrument's; what follows from the stone and the figures
// of the instrument, or of any; else the sheet's other.
func TestReckon(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"house.yaml": weighed})
	for _, tt := range []struct {
		text     string
		u, highU float64
	}{
		{"stone: {carat: 1}\nreadings: {specific_gravity: 3.5}", densityBy(3.5, 1, 0.002), 0},
		{"readings: {specific_gravity: 3.5}\nstone: {carat: 0.2}", densityBy(3.5, 0.2, 0.002), 0},
		{"stone: {carat: 1}\nreadings: {specific_gravity: {value: 3.5, uncertainty: 0.7}}", 0.7, 0},
		{"stone: {carat: 1}\nreadings: {specific_gravity: {value: 3.5, instrument: plain-balance}}",
			densityBy(3.5, 1, 0.002), 0},
		{"stone: {carat: 1}\nreadings: {specific_gravity: {value: 3.5, instrument: fine-balance}}",
			densityBy(3.5, 1, 0.0005), 0},
		{"stone: {carat: 1}\nreadings: {specific_gravity: {value: 3.5, instrument: fine-balance, uncertainty: 0.7}}",
			0.7, 0},
		{"stone: {carat: 1}\nreadings: {specific_gravity: {value: 3.5, instrument: sure-balance}}", 0.3, 0},
		{"stone: {carat: 1}\nreadings: {specific_gravity: {value: 3.5, test: spring-balance}}", densityBy(3.5, 1, 0.05),
			0}, // the house's only one
		{"stone: {carat: 1}\nreadings: {specific_gravity: {value: 3.5, test: heavy-liquid}}", 0.05, 0},
		{"readings: {specific_gravity: 3.5}", 0.02, 0},
		{"stone: {carat: 1}\nreadings: {specific_gravity: {above: 3.32}}", 0.02, 0},
		{"stone: {carat: 1}\nreadings: {specific_gravity: 1}", densityBy(1, 1, 0.002), 0},
		{"stone: {carat: 1e-320}\nreadings: {specific_gravity: 3.5}", 0.02, 0}, // no finite number
		{"stone: {width_mm: 5}\nreadings: {ri: {value: [1.5, 1.6], test: total-reflection}}", 0.5 * 0.01 * 0.95,
			0.6 * 0.01 * 0.95},
		// below zero
		{"stone: {width_mm: 200}\nreadings: {ri: {value: [1.5, 1.6], test: total-reflection}}", 0.004, 0.004},
		{"stone: {width_mm: 100}\nreadings: {ri: {value: 1.5, test: total-reflection}}", 0.004, 0}, // zero
		{"readings: {ri: {value: [1.5, 1.6], test: total-reflection}}", 0.004, 0.004},
		{"stone: {width_mm: 5}\nreadings: {ri: 1.5}", 0.001, 0},
	} {
		r := loadtest.Case(t, rs, tt.text).Readings[0]
		if tt.highU == 0 {
			tt.highU = tt.u
		}
		if math.Abs(r.U-tt.u) > 1e-6*tt.u || math.Abs(r.HighU-tt.highU) > 1e-6*tt.highU ||
			r.Noise != max(r.U, r.HighU) {
			t.Errorf("%s: %v and %v, noise %v; want %v and %v", tt.text, r.U, r.HighU, r.Noise, tt.u, tt.highU)
		}
	}
	y := rs.Vocabulary.Yield("plunge", rs.Vocabulary.Observable("specific_gravity"))
	if y.Uncertainty != 0.02 || y.Observable.Resolution != 0.02 || len(y.Figures) != 2 ||
		*y.Figures[0].Otherwise != 0.002 || y.Figures[1].Otherwise != nil {
		t.Errorf("%+v", y)
	}
	if other := rs.Vocabulary.Yield("spring-balance", y.Observable); other.Formula != y.Formula ||
		other.Uncertainty != 0.02 || other.Blunder != 0.2 {
		t.Errorf("%+v", other)
	}
}

// TestReckonNothing: what does not come to a number above zero comes to nothing, whoever asks.
func TestReckonNothing(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"house.yaml": weighed})
	y, prism := rs.Vocabulary.Yield("total-reflection", rs.Vocabulary.Observable("ri")),
		rs.Vocabulary.Instrument("prism")
	for width, want := range map[float64]float64{5: 0.5 * 0.01 * 0.95, 100: 0, 200: 0} {
		c := &casefile.Case{Stone: casefile.Stone{Width: &width}}
		if got := eval.CaseReader(rs).Reckon(c, y, prism, 1.5); math.Abs(got-want) > 1e-12 {
			t.Errorf("at %v mm: %v, want %v", width, got, want)
		}
		if got := eval.CaseReader(rs).Reckon(c, y, nil, 1.5); got != 0 {
			t.Errorf("with an instrument of which nothing is known: %v", got)
		}
	}
	if got := eval.CaseReader(rs).Reckon(&casefile.Case{}, rs.Vocabulary.Yield("refractometer", y.Observable), nil,
		1.5); got != 0 {
		t.Errorf("of a test without an expression: %v", got)
	}
}

// TestReckonForUnknownInstruments: an expression whose figure nobody knows comes to nothing; an example of a rule knows
// nothing of the house.
func TestReckonForUnknownInstruments(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"house.yaml": weighed + `
rules:
  - rule: dense
    says: x
    if: ri > 1.59
    cautions: x
    examples:
      - {stone: {width_mm: 5}, readings: {ri: {value: 1.6, test: total-reflection}}, is: holds}
      - {stone: {width_mm: 5}, readings: {ri: {value: 1.6, test: total-reflection, instrument: prism}}, is: undecided}
`})
	for i, want := range []float64{0.004, 0.6 * 0.01 * 0.95} {
		if got := rs.Rule("dense").Examples[i].Case.Readings[0].U; math.Abs(got-want) > 1e-12 {
			t.Errorf("example %d: %v, want %v", i+1, got, want)
		}
	}
}

// TestReckonLargerStones: the heavier the stone and the finer the balance, the surer the density.
func TestReckonLargerStones(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"house.yaml": weighed})
	rapid.Check(t, func(rt *rapid.T) {
		carat, density := rapid.Float64Range(0.01, 50).Draw(rt, "carat"), rapid.Float64Range(1.1, 7).Draw(rt, "density")
		read := func(carat float64, with string) float64 {
			return loadtest.Case(t, rs, fmt.Sprintf("stone: {carat: %g}\nreadings: {specific_gravity: {value: %g, "+
				"instrument: %s}}", carat, density, with)).Readings[0].U
		}
		plain, fine, twice := read(carat, "plain-balance"), read(carat, "fine-balance"), read(2*carat, "plain-balance")
		if math.Abs(plain/fine-4) > 1e-9 || math.Abs(plain/twice-2) > 1e-9 {
			rt.Fatalf("%v, finer %v, on twice the stone %v", plain, fine, twice)
		}
	})
}
