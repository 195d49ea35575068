package load_test

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"whystone/kb"
	"whystone/kb/load/loadtest"
	"whystone/kb/vocab"
)

const polariscope = `format: 1
tests:
  - test: polariscope
    name: polariscope
    harm: contact
    minutes: 2
    source: common practice
    cautions: [Consent first.]
    needs: [{if: not stone.mounted, says: A loose stone.}, {says: A steady hand.}, {if: not seen(ri), says: What is not read.}]
    yields:
      optic_character:
        kind: choice
        family: double refraction
        blunder: 0.03
        choices: {isotropic: , uniaxial: {blunder: 0.1}, biaxial: , doubly refractive: {also: [two rays], covers: [uniaxial, biaxial]}}
  - test: spot-reading
    name: spot reading
    harm: contact
    source: common practice
    yields:
      ri: {uncertainty: 0.01, blunder: 0.05, limits: [1.35, 1.8]}
      birefringence: {}
      thermal_probe: {}
      facet_doubling: {blunder: 0.2}
`

// TestTestSheets: what the sheets say of observables and of what each test gives of them, defaults filled in.
func TestTestSheets(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"house.yaml": polariscope})
	v := rs.Vocabulary
	o := v.Observable("optic_character")
	if d := cmp.Diff([]string{"biaxial", "doubly refractive", "isotropic", "uniaxial"}, o.Words()); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]string{"biaxial", "uniaxial"}, o.Of(o.Meaning(1))); d != "" || o.Plain != 3 ||
		o.Family != "double refraction" {
		t.Errorf("%s %+v", d, o)
	}
	y := v.Yield("polariscope", o)
	for i, want := range []float64{0.03, 0.03, 0.03, 0.1} {
		if y.BlunderOf(i) != want {
			t.Errorf("%s is a mistake in %v", o.Outcomes[i].Name, y.BlunderOf(i))
		}
	}
	type figures struct {
		U, Blunder float64
		Limits     [2]float64
		Outcome    []float64
	}
	for name, want := range map[string]figures{
		"ri":             {0.01, 0.05, [2]float64{1.35, 1.8}, nil},
		"birefringence":  {0.0015, 0.015, [2]float64{0, 0.35}, nil}, // another test's entry keeps what it doesn't say
		"thermal_probe":  {0, 0.02, [2]float64{}, []float64{0.02, 0.02, 0.02}},
		"facet_doubling": {0, 0.2, [2]float64{}, nil},
	} {
		y := v.Yield("spot-reading", v.Observable(name))
		if d := cmp.Diff(want, figures{y.Uncertainty, y.Blunder, y.Limits, y.Outcome}); d != "" {
			t.Errorf("%s: %s", name, d)
		}
	}
	// Another test than the declaring one is not bound by its limits, but for its own.
	if y := v.Yield("goniometer", v.Observable("ri")); y.Limits != [2]float64{1.3, 3} ||
		v.Yield("refractometer", y.Observable).Limits[1] != 1.81 {
		t.Errorf("limits: %+v", y)
	}
	if ri := v.Observable("ri"); ri.Property != "ri" || ri.Resolution != 0.001 ||
		v.Observable("birefringence").Resolution != 0.0015 {
		t.Errorf("%+v", ri)
	}
	incl := v.Observable("inclusions")
	if i, _ := incl.Outcome("needles"); incl.Outcomes[i].Background != 0.05 {
		t.Error("a feature has no background by default")
	}
	if i, ok := incl.Outcome("bubbles"); !ok || incl.Outcomes[i].Name != "gas bubbles" {
		t.Error("another spelling of a feature")
	}
	test := rs.Test("polariscope")
	if !test.Harmless() || test.Minutes != 2 || len(test.Needs) != 3 || test.Needs[0].If == nil ||
		test.Needs[1].If != nil || test.Needs[2].If == nil || len(test.Cautions) != 1 {
		t.Errorf("%+v", test)
	}
	if rs.Test("spot-reading").Minutes != 1 || len(rs.Test("spot-reading").Yields) != 4 {
		t.Error("the other test")
	}
	for harm, harmless := range map[kb.Harm]bool{kb.NoHarm: true, kb.Contact: true, kb.Marks: false,
		kb.Destroys: false} {
		if (&kb.Test{Harm: harm}).Harmless() != harmless {
			t.Errorf("%s is harmless: %t", harm, !harmless)
		}
	}
}

// TestInstruments: a house's instrument has its own figures, of one observable where it says which.
func TestInstruments(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"house.yaml": `format: 1
policy:
  instruments: [{instrument: quay-refractometer, test: refractometer, observable: ri, uncertainty: 0.003, limits: [1.35, 1.79], blunder: 0.02}]
`})
	c := loadtest.Case(t, rs, "readings: {ri: 1.5, birefringence: 0.009}")
	for _, r := range c.Readings {
		u, blunder := 0.003, 0.02
		if r.Observable.Name == "birefringence" {
			u, blunder = 0.0015, 0.015
		}
		if r.U != u || r.Blunder != blunder || r.Instrument != "quay-refractometer" {
			t.Errorf("%s: %+v", r.Name(), r)
		}
	}
}

// TestDerived: a specific gravity that follows from weight and measurements where nobody read one: for a round
// brilliant carats over (width squared times depth times 0.0061 over 3.52), the shape factor of common practice.
func TestDerived(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"house.yaml": `format: 1
tests:
  - test: callipers
    name: callipers
    harm: contact
    source: common practice
    yields:
      size_density:
        kind: quantity
        property: specific_gravity
        family: density
        unit: "1"
        span: [1, 8]
        uncertainty: 0.3
        blunder: 0.05
        derived:
          - {if: 'stone.cut contains "brilliant"', is: stone.carat * 3.52 / (stone.length_mm * stone.width_mm * stone.depth_mm * 0.0061), relative: 0.05, says: by size, source: common practice}
`})
	o := rs.Vocabulary.Observable("size_density")
	stone := "stone: {carat: 1.02, length_mm: 6.45, width_mm: 6.48, depth_mm: 3.96, cut: Round Brilliant}\n"
	c := loadtest.Case(t, rs, stone)
	if len(c.Readings) != 1 {
		t.Fatalf("%d readings", len(c.Readings))
	}
	r := c.Readings[0]
	if want := 1.02 * 3.52 / (6.45 * 6.48 * 3.96 * 0.0061); math.Abs(r.Value-want) > 1e-9 ||
		math.Abs(r.U-0.05*want) > 1e-9 || !r.Derived || r.Blunder != 0.05 {
		t.Errorf("%+v, want %v", r, want)
	}
	for text, n := range map[string]int{
		stone + "readings: {size_density: 4}": 1, "stone: {carat: 1.02, cut: round brilliant}": 0,
		"stone: {carat: 1.02, length_mm: 6.45, width_mm: 6.48, depth_mm: 3.96, cut: step}": 0,
		// beyond the span
		"stone: {carat: 900, length_mm: 6.45, width_mm: 6.48, depth_mm: 3.96, cut: round brilliant}":    0,
		"stone: {carat: 1.02, length_mm: 1e-200, width_mm: 1e-200, depth_mm: 3.96, cut: old brilliant}": 0,
	} {
		c := loadtest.Case(t, rs, text)
		if len(c.Readings) != n || n == 1 && (c.Readings[0].Derived || c.Readings[0].Observable != o) {
			t.Errorf("%s: %d readings", text, len(c.Readings))
		}
	}
	if o.Kind != vocab.Quantity || o.Property != "specific_gravity" {
		t.Errorf("%+v", o)
	}
}
