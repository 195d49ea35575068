package kb_test

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"whystone/kb/load/loadtest"
	"whystone/kb/vocab"
)

// TestInheritance: a leaf has what its group says, except where it says something itself.
func TestInheritance(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"house.yaml": `format: 1
materials:
  - {group: coated, under: glass, name: coated glass, nameable: true, seen_at_counter: rare, properties: {ri: {range: [1.5, 1.6], source: mine}}}
  - material: blue-coated
    under: coated
    name: blue coated glass
    origin: assembled
    outcomes: {thermal_probe: {seen: {unsteady: often}, source: x}}
    features: {inclusions: {seen: {needles: never}, source: x}}
`})
	m := rs.Node("blue-coated")
	if m.Origin != "assembled" || m.Counter != "rare" || m.Depth != 3 || m.Index < 0 || rs.Leaves[m.Index] != m {
		t.Errorf("%+v", m)
	}
	for name, want := range map[string][2]float64{"ri": {1.5, 1.6}, "birefringence": {0, 0}} {
		if r := m.Ranges[name]; r == nil || r.Low != want[0] || r.High != want[1] {
			t.Errorf("%s is %+v", name, r)
		}
	}
	if m.Ranges["ri"].SaidBy.ID != "coated" || m.Ranges["birefringence"].SaidBy.ID != "glass" ||
		m.Ranges["specific_gravity"] != nil {
		t.Error("it is not told where a range comes from")
	}
	if m.Choices["thermal_probe"].Words["unsteady"] != "often" || m.Features["inclusions"].Words["needles"] != "never" {
		t.Error("its own outcomes are lost")
	}
	if lead := rs.Node("lead-glass"); lead.Ranges["ri"].Low != 1.58 || lead.Ranges["ri"].SaidBy != lead ||
		lead.Origin != "imitation" {
		t.Error("a leaf that narrows its group does not")
	}
	diamond := rs.Node("natural-diamond")
	if diamond.Choices["facet_doubling"].Single != "none" ||
		diamond.Choices["facet_doubling"].Words["none"] != "always" {
		t.Error("a single word means always")
	}
	if d := cmp.Diff([2]float64{3.515, 3.525}, *diamond.Ranges["specific_gravity"].Typical); d != "" {
		t.Error(d)
	}
}

func TestTree(t *testing.T) {
	rs := loadtest.Must(t, nil)
	diamond, natural, stones := rs.Node("diamond"), rs.Node("natural-diamond"), rs.Node("stones")
	if d := cmp.Diff([]string{"diamond", "natural-diamond"}, natural.Path()); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]string{"grown-diamond", "natural-diamond"}, loadtest.Names(rs, diamond.Leaves)); d != "" {
		t.Error(d)
	}
	if len(stones.Leaves) != len(rs.Leaves) || stones.Nameable || stones.Parent != nil || diamond.Index != -1 {
		t.Errorf("the root: %+v", stones)
	}
	if !natural.Under(diamond) || !natural.Under(natural) || natural.Under(rs.Node("quartz")) ||
		diamond.Under(natural) {
		t.Error("what lies under what")
	}
	if natural.NameableAbove() != diamond || diamond.NameableAbove() != nil {
		t.Error("the nameable group above")
	}
	for i, m := range rs.Leaves {
		if m.Index != i || i > 0 && rs.Leaves[i-1].ID >= m.ID {
			t.Errorf("%s is number %d", m.ID, m.Index)
		}
	}
	if rs.Node("") != nil || rs.Node("zircon") != nil {
		t.Error("a material that there is not was found")
	}
}

// TestReflectance: it follows from the refractive index by Fresnel's equation at normal incidence, R = ((n-1)/(n+1))²:
// 4 % for 1.5 and 17.2 % for 2.417, worked out by hand (the equation from memory). A sheet's own stands.
func TestReflectance(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"house.yaml": `format: 1
tests:
  - {test: meter, name: meter, harm: contact, source: x, yields: {reflectance: {kind: quantity, family: refraction, unit: "%", span: [0, 40], uncertainty: 1, blunder: 0.1}}}
materials:
  - {group: paste, under: glass, name: paste, properties: {ri: {range: [1.5, 1.6], source: x}}}
  - {material: old-paste, under: paste, name: old paste, properties: {ri: {range: [1.5, 1.5], source: x}}}
  - {material: foiled-paste, under: paste, name: foiled paste, properties: {reflectance: {range: [20, 30], source: x}}}
`})
	near := func(a, b float64) bool { return math.Abs(a-b) < 1e-9 }
	if r := rs.Node("old-paste").Ranges[vocab.Reflectance]; r == nil || !near(r.Low, 4) || !near(r.High, 4) ||
		r.Derived == "" {
		t.Errorf("of 1.5: %+v", r)
	}
	if r := rs.Node("paste").Ranges[vocab.Reflectance]; !near(r.High, 100*(0.6/2.6)*(0.6/2.6)) {
		t.Errorf("of 1.6: %+v", r)
	}
	if r := rs.Node("natural-diamond").Ranges[vocab.Reflectance]; !near(r.Low, 100*1.417*1.417/(3.417*3.417)) {
		t.Errorf("of 2.417: %+v", r)
	}
	if r := rs.Node("foiled-paste").Ranges[vocab.Reflectance]; r.Low != 20 || r.Derived != "" {
		t.Errorf("a sheet's own: %+v", r)
	}
}

// TestPriors: an override by id counts before the material's own word, that before its group's; a group's override
// stands for each of its leaves. What is listed sums to 1 less what is not.
func TestPriors(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"house.yaml": "format: 1\npolicy: {unlisted: 0.01, priors: {glass: 5, " +
		"lead-glass: 2, grown-diamond: 50}}\n"})
	weights := map[string]float64{"natural-diamond": 100, "grown-diamond": 50, "rock-crystal": 30,
		"synthetic-quartz": 1, "lead-glass": 2, "ordinary-glass": 5}
	total, sum := 0.0, 0.0
	for _, w := range weights {
		total += w
	}
	for i, p := range rs.Priors() {
		want := weights[rs.Leaves[i].ID] / total * 0.99
		if math.Abs(p-want) > 1e-12 {
			t.Errorf("%s has the prior %v, want %v", rs.Leaves[i].ID, p, want)
		}
		sum += p
	}
	if math.Abs(sum-0.99) > 1e-12 {
		t.Errorf("they sum to %v", sum)
	}
}

// TestPolicyLookups: which requirement and which word apply.
func TestPolicyLookups(t *testing.T) {
	p := loadtest.Must(t, nil).Policy
	for stake, share := range map[float64]float64{0: 0.95, 4999.99: 0.95, 5000: 0.98, 1e9: 0.98} {
		if got := p.RequiredFor(stake).Share; got != share {
			t.Errorf("at %v the share is %v", stake, got)
		}
	}
	for ratio, word := range map[float64]string{1: "weak", 9.99: "weak", 10: "moderate", 999: "moderate",
		1e12: "strong", 0.5: ""} {
		if got := p.Words(ratio); got != word {
			t.Errorf("%v is called %q", ratio, got)
		}
	}
}

// TestClaims: what a word claims, with the origin that the trade's word demands.
func TestClaims(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"house.yaml": "format: 1\npolicy: {claims: {sky quartz: {node: quartz, " +
		"origin: natural, colour: [blue]}}}\n"})
	tests := []struct{ word, leaves, means, group string }{
		{"diamond", "natural-diamond", "natural-diamond", "diamond"},
		{"Natural  DIAMOND", "natural-diamond", "natural-diamond", "diamond"},
		{"laboratory-grown diamond", "grown-diamond", "grown-diamond", "diamond"},
		{"created diamond", "grown-diamond", "grown-diamond", "diamond"},
		{"quartz", "rock-crystal", "rock-crystal", "quartz"}, // a bare species name means the natural one
		{"sky quartz", "rock-crystal", "rock-crystal", "quartz"},
		{"glass", "lead-glass ordinary-glass", "glass", ""},
		{"rhinestone", "lead-glass ordinary-glass", "glass", ""},
		{"lead-glass", "lead-glass", "lead-glass", "glass"},
		{"stones", "", "", ""}, // the root claims nothing
		{"ruby", "", "", ""},
	}
	for _, tt := range tests {
		c := rs.Claim(tt.word)
		if tt.leaves == "" {
			if c != nil {
				t.Errorf("%q claims %v", tt.word, loadtest.Names(rs, c.Leaves))
			}
			continue
		}
		if c == nil {
			t.Errorf("nobody knows %q", tt.word)
			continue
		}
		got, group := "", ""
		for _, id := range loadtest.Names(rs, c.Leaves) {
			got += " " + id
		}
		if g := c.Group(rs); g != nil {
			group = g.ID
		}
		if got != " "+tt.leaves || c.Means(rs).ID != tt.means || group != tt.group {
			t.Errorf("%q claims%s, means %s, of the group %q", tt.word, got, c.Means(rs).ID, group)
		}
	}
	if c := rs.Claim("sky quartz"); len(c.Colours) != 1 || c.Origin != "natural" {
		t.Errorf("%+v", c)
	}
}

// TestSpeaks: whether the sheets say something of an observable, or of a property by whatever name it is measured.
func TestSpeaks(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"house.yaml": `format: 1
policy: {every_sheet_says: [colour, ri, heft, specific_gravity]}
tests:
  - {test: hefting, name: hefting, harm: none, source: x, yields: {heft: {kind: quantity, property: specific_gravity, family: density, unit: "1", span: [1, 8], uncertainty: 1, blunder: 0.1}}}
`})
	if d := cmp.Diff([]string{"colour", "ri", "heft", "specific_gravity"}, rs.Policy.EverySheetSays); d != "" {
		t.Error(d)
	}
	for id, want := range map[string]map[string]bool{
		"natural-diamond": {"ri": true, "heft": true, "specific_gravity": true, "thermal_probe": true,
			"inclusions": true, "colour": false},
		"ordinary-glass": {"ri": true, "heft": false, "specific_gravity": false, "inclusions": false},
		"stones":         {"ri": false},
	} {
		for name, says := range want {
			if rs.Node(id).Speaks(rs.Vocabulary, name) != says {
				t.Errorf("%s of %s", name, id)
			}
		}
	}
}
