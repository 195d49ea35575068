package physics

import (
	"errors"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// One formula in many spellings has one mass. (The masses of 117 formulas are held against a published table in
// cell_test.go.)
func TestFormulaSpellings(t *testing.T) {
	for a, b := range map[string]string{
		"Al2SiO4F2":                  "Al₂SiO₄F₂",
		"Al2SiO4(OH)2":               "Al2SiO4[OH]2",
		"CaSO4.2H2O":                 "CaSO4·2H2O",
		"CuAl6(PO4)4(OH)8.4H2O":      "CuAl6P4O16O8H8O4H8",
		"CuAl6(PO4)4(OH)8·4H2O":      "CuAl6P4O28H16",
		"CaAl2Si2O7(OH)2.H2O":        "CaAl2Si2O10H4",
		"(ZrO2)0.92(Y2O3)0.08":       "Zr0.92Y0.16O2.08",
		"SiO2·0.5H2O":                "SiO2.5H",
		"2H2O":                       "H4O2",
		"Ca(Mg0.5(Fe0.25Mn0.25))CO3": "CaMg0.5Fe0.25Mn0.25CO3",
	} {
		within(t, a+" and "+b, must(MolarMass(a)), must(MolarMass(b)), 1e-9)
	}
	within(t, "half formula in fractions", must(MolarMass("Al1.0Si0.5O2F1"))*2, must(MolarMass("Al2SiO4F2")), 1e-9)
}

func TestFormulaRefusals(t *testing.T) {
	for formula, want := range map[string]string{
		"":                          "it ends",
		"Al2SiO4(F,OH)2":            "choice with a comma",
		"Al2(SiO4":                  "it ends",
		"Al2)SiO4":                  `')' after "Al2"`,
		"Xx2O3":                     `no element "Xx"`,
		"al2O3":                     `'a' after ""`,
		"Al2O3 x":                   `' ' after "Al2O3"`,
		"Al0O3":                     `"0" is no amount`,
		"Al1.2.3":                   `"1.2.3" is no amount`,
		"Al99999999":                "is no amount",
		"SiO2·":                     "it ends",
		"SiO2·nH2O":                 `'n' after "SiO2·"`,
		"()2":                       `')' after "("`,
		"Fe+2O":                     `'+' after "Fe"`,
		"Mg0.5H2O":                  `"0" is no amount`, // read as Mg0·5H2O: the raised point is needed here
		strings.Repeat("(", 100000): "nested more than 8 deep",
	} {
		if m, err := MolarMass(formula); !errors.Is(err, ErrFormula) || !strings.Contains(err.Error(), want) {
			t.Errorf("%.40q: %g, %v, want an error with %q", formula, m, err, want)
		}
	}
}

// Whatever the text, there is a positive mass or an error, and twice the formula weighs twice as much.
func TestAnyText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := strings.Join(rapid.SliceOfN(rapid.SampledFrom([]string{"Si", "O", "H2O", "(", ")", "2", "0.5", ".", "·",
			"Al", "é", "₂"}),
			0, 9).Draw(t, "tokens"), "")
		mass, err := MolarMass(text)
		if err != nil {
			if !errors.Is(err, ErrFormula) {
				t.Errorf("%q: %v", text, err)
			}
			return
		}
		if !(mass > 0) {
			t.Errorf("%q: %g", text, mass)
		}
		if strings.ContainsAny(text, ".·") || strings.ContainsAny(subscripts.Replace(text)[:1], "0123456789") {
			return
		}
		if twice, err := MolarMass("(" + text + ")2"); err != nil || twice < 1.999999*mass || twice > 2.000001*mass {
			t.Errorf("%q: %g, twice %g, %v", text, mass, twice, err)
		}
	})
}
