package load_test

import (
	"strings"
	"testing"
	"whystone/kb/load/loadtest"

	"github.com/google/go-cmp/cmp"
)

// TestSelections: whom a rule speaks of. A condition over the material is decided at load, each range as a whole; a
// missing property leaves it undecided, and the material is not named.
func TestSelections(t *testing.T) {
	all := "grown-diamond lead-glass natural-diamond ordinary-glass rock-crystal synthetic-quartz"
	for selection, want := range map[string]string{
		"[natural-diamond]":               "natural-diamond",
		"[diamond, rock-crystal]":         "grown-diamond natural-diamond rock-crystal",
		"[quartz, rock-crystal, quartz]":  "rock-crystal synthetic-quartz",
		"[stones]":                        all,
		"glass":                           "lead-glass ordinary-glass",
		"{materials: [glass]}":            "lead-glass ordinary-glass",
		"{where: material.ri.high < 1.6}": "rock-crystal synthetic-quartz",
		"{where: material.ri < 1.71}":     "lead-glass ordinary-glass rock-crystal synthetic-quartz",
		// of 1.45 to 1.7 it is undecided
		"{where: material.ri > 1.55}":               "grown-diamond lead-glass natural-diamond",
		"{where: material.ri <= 1.553}":             "rock-crystal synthetic-quartz",
		"{where: material.birefringence == 0}":      "!equals-on-quantity",
		"{where: material.birefringence.high == 0}": "grown-diamond lead-glass natural-diamond ordinary-glass",
		"{where: material.specific_gravity > 1}": "grown-diamond lead-glass natural-diamond " +
			"rock-crystal synthetic-quartz", // ordinary glass says none
		"{where: not (material.specific_gravity > 1)}":             "",
		"{where: material.origin == 'natural'}":                    "natural-diamond rock-crystal",
		`{where: "material.origin in ['imitation', 'assembled']"}`: "lead-glass ordinary-glass",
		"{where: material.thermal_probe == 'below diamond range'}": "rock-crystal synthetic-quartz",
		// never is no outcome
		"{where: material.thermal_probe != 'below diamond range'}": "grown-diamond natural-diamond",
		// it may be unsteady, too
		"{where: material.thermal_probe == 'diamond range'}": "",
		"{where: material.id startsWith 'grown'}":            "grown-diamond",
		"{where: material.name contains 'Glass'}":            "lead-glass ordinary-glass",
		"{where: material.ri.high - material.ri.low > 0.1}":  "lead-glass ordinary-glass",
		"{where: 'true'}":                        all,
		"{where: true}":                          all,
		"{where: seen(material.facet_doubling)}": "grown-diamond natural-diamond",
		"{where: material.colour == 'blue' or material.ri.low > 2}": "grown-diamond natural-diamond",
	} {
		rs, out := loadtest.House(t, map[string]string{"house.yaml": "format: 1\nrules:\n  - rule: chosen\n    says: " +
			"x\n    if: ri > 1.5\n    excludes: " + selection + "\n"})
		if code, refused := strings.CutPrefix(want, "!"); refused {
			if rs != nil || string(out[0].Code) != code {
				t.Errorf("%s: %v", selection, out)
			}
			continue
		}
		if rs == nil {
			t.Errorf("%s: %v", selection, out)
			continue
		}
		if got := strings.Join(loadtest.Names(rs, rs.Rule("chosen").Excludes.Leaves), " "); got != want {
			t.Errorf("%s: %s, want %s", selection, got, want)
		}
		// That a condition names nobody is worth a word, and no more.
		if warned := len(out) == 1 && out[0].Code == "inactive" && !out.HasErrors(); warned != (want == "") {
			t.Errorf("%s: warned %t, %v", selection, warned, out)
		}
	}
}

// TestEvidence: strengths are the policy's words or ratios; what weakens has the inverse.
func TestEvidence(t *testing.T) {
	rs := loadtest.WithRules(t, `
  - rule: r
    says: x
    if: ri > 1.5
    supports: [{materials: [diamond], strength: moderate}, {where: material.ri.high < 1.6, ratio: 1}]
    weakens: {materials: [glass], ratio: 10000}
  - rule: backed
    says: x
    if: ri > 1.5
    backed_by: invented data
    supports: [{materials: [diamond], strength: very strong}, {materials: [glass], ratio: 1e9}]
`)
	var got []string
	ratios := []float64{}
	for _, id := range []string{"r", "backed"} {
		for _, w := range rs.Rule(id).Weights {
			got = append(got, strings.Join(loadtest.Names(rs, w.Leaves), " ")+" "+w.Strength)
			ratios = append(ratios, w.Ratio)
		}
	}
	want := []string{"grown-diamond natural-diamond moderate", "rock-crystal synthetic-quartz ",
		"lead-glass ordinary-glass ", "grown-diamond natural-diamond very strong", "lead-glass ordinary-glass "}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]float64{30, 1, 1e-4, 30000, 1e9}, ratios); d != "" {
		t.Error(d)
	}
}

// TestBasis: what a rule's evidence rests on, through the facts of others, and the family that follows from it.
func TestBasis(t *testing.T) {
	rs := loadtest.WithRules(t, `
  - {rule: features, says: x, if: 'any(inclusions, # in ["feather", "gas bubbles"]) and "needles" not in inclusions', supports: {materials: [glass], ratio: 2}}
  - {rule: heavy, says: x, if: specific_gravity > 3 and not stone.mounted, establishes: {heavy: true, derived: {is: ri * 2}}}
  - {rule: through, says: x, if: derived > 3, family: refraction, supports: {materials: [glass], ratio: 2}}
  - {rule: excepted, says: x, if: ri > 1.5, unless: facet_doubling == "none", family: refraction, supports: {materials: [glass], ratio: 2}}
  - {rule: draft, says: x, if: colour == "red", establishes: {heavy: true}, status: draft}
  - {rule: asked, says: x, if: seen(ri), supports: {materials: [glass], ratio: 2}}
`)
	for id, want := range map[string]string{
		"features": "inclusions: feather, inclusions: gas bubbles, inclusions: needles | magnified",
		"through":  "ri, specific_gravity | refraction", // of the draft's colour nothing
		"excepted": "facet_doubling, ri | refraction",
		"asked":    "ri | refraction",
	} {
		r := rs.Rule(id)
		var atoms []string
		for _, a := range r.Basis {
			atoms = append(atoms, a.String())
		}
		if got := strings.Join(atoms, ", ") + " | " + r.Family; got != want {
			t.Errorf("%s rests on %s, want %s", id, got, want)
		}
	}
}
