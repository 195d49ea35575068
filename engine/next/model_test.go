package next

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"testing/fstest"

	"whystone/engine/enginetest"
	"whystone/kb"
	"whystone/kb/load"
)

// model is a small invented ruleset: a few materials and up to six tests, each with an observable in a family of its
// own. No rule acts. What is in it is kept here as numbers, so that a check need not ask the engine.
type model struct {
	stones int
	prior  []float64 // on the policy's scale
	tests  []modelTest
	names  func(kind string, i int) string
}

// modelTest is a choice, one feature, or a quantity.
type modelTest struct {
	kind    string
	blunder float64
	u, tol  float64
	says    []bool       // by stone: whether the sheet says anything
	words   [][]string   // of a choice, by stone and outcome; of a feature, by stone
	ranges  [][2]float64 // of a quantity, by stone
	typical []bool       // the middle half of the range is the typical part
	minutes float64
}

var (
	modelWords = map[string]float64{"always": 0.98, "usually": 0.85, "often": 0.5, "sometimes": 0.2, "rarely": 0.03,
		"never": 0}
	plainWords = []string{"usually", "often", "sometimes", "rarely"}
)

const (
	modelOutcomes   = 3
	modelSpan       = 4.0 // of a quantity, from zero
	modelResolution = 0.01
	modelBackground = 0.1
	modelUnlisted   = 0.01
	modelMisfit     = 4.0
)

// drawModel draws a model; a quantity among its tests only if it is said, as two of them could exclude a stone for
// good.
func drawModel(rng *rand.Rand, quantities int) *model {
	m := &model{stones: 2 + rng.IntN(4), names: func(kind string, i int) string {
		return fmt.Sprintf("%s-%d", kind,
			i)
	}}
	for range m.stones {
		m.prior = append(m.prior, float64(1+rng.IntN(9)))
	}
	for i := range 1 + rng.IntN(6) {
		t := modelTest{kind: "choice", blunder: 0.01 + 0.1*rng.Float64(), minutes: float64(1 + rng.IntN(9))}
		switch {
		case i < quantities:
			t.kind, t.u, t.tol = "quantity", 0.005+0.05*rng.Float64(), 0.01*float64(rng.IntN(3))
		case rng.IntN(3) == 0:
			t.kind = "feature"
		}
		for range m.stones {
			t.says = append(t.says, rng.IntN(5) > 0)
			lo := 0.5 + 2.5*rng.Float64()
			t.ranges = append(t.ranges, [2]float64{lo, lo + 0.4*rng.Float64()*float64(rng.IntN(3))})
			t.typical = append(t.typical, rng.IntN(3) == 0)
			words := make([]string, modelOutcomes)
			for k := range words {
				words[k] = plainWords[rng.IntN(len(plainWords))]
			}
			t.words = append(t.words, words)
		}
		m.tests = append(m.tests, t)
	}
	return m
}

// loaded writes the model as files and loads it.
func (m *model) load(tb testing.TB) *kb.Ruleset {
	tb.Helper()
	var tests, materials strings.Builder
	tests.WriteString("format: 1\ntests:\n")
	for i, t := range m.tests {
		name := strings.ReplaceAll(m.names("look", i), "-", "_")
		fmt.Fprintf(&tests, "  - test: %s\n    name: %s\n    harm: none\n    minutes: %g\n    source: invented\n    "+
			"yields:\n      %s: {family: %s, blunder: %.17g, ",
			m.names("test", i), m.names("test", i), t.minutes, name, m.names("family", i), t.blunder)
		switch t.kind {
		case "choice":
			tests.WriteString("kind: choice, choices: [one, two, three]}\n")
		case "feature":
			fmt.Fprintf(&tests, "kind: features, features: {spot: {background: %g}}}\n", modelBackground)
		default:
			fmt.Fprintf(&tests, "kind: quantity, unit: \"1\", span: [0, %g], uncertainty: %.17g, resolution: %g}\n",
				modelSpan, t.u, modelResolution)
		}
	}
	materials.WriteString("format: 1\nmaterials:\n  - {group: stones, name: stones}\n")
	var priors strings.Builder
	for s := range m.stones {
		fmt.Fprintf(&materials, "  - material: %s\n    under: stones\n    name: %s\n    origin: natural\n    "+
			"seen_at_counter: common\n%s", m.names("stone", s), m.names("stone", s), m.sheet(s))
		fmt.Fprintf(&priors, "%s: %g, ", m.names("stone", s), m.prior[s])
	}
	policy := fmt.Sprintf(`format: 1
policy:
  time_zone: UTC
  currency: EUR
  unlisted: %g
  misfit: %g
  frequency: {always: 0.98, usually: 0.85, often: 0.5, sometimes: 0.2, rarely: 0.03, never: 0}
  strength: {weak: 3}
  scale: [{from: 1, says: weak}]
  seen_at_counter: {common: 30}
  priors: {%s}
  required: [{stake: 0, share: 0.95, doubt_limit: 0.15}]
`, modelUnlisted, modelMisfit, priors.String())
	rs, l := load.Load(tb.Context(), []load.Layer{{Name: "model",
		FS: fstest.MapFS{"tests.yaml": {Data: []byte(tests.String())},
			"materials.yaml": {Data: []byte(materials.String())}, "policy.yaml": {Data: []byte(policy)},
			"rules.yaml": {Data: []byte("format: 1\nrules: []\n")}}}})
	if rs == nil {
		tb.Fatal(enginetest.Findings(l))
	}
	return rs
}

// sheet is what the sheet of a stone says, as YAML.
func (m *model) sheet(s int) string {
	var properties, outcomes, features string
	for i, t := range m.tests {
		if !t.says[s] {
			continue
		}
		name := strings.ReplaceAll(m.names("look", i), "-", "_")
		w := t.words[s]
		switch t.kind {
		case "choice":
			outcomes += fmt.Sprintf("      %s: {seen: {one: %s, two: %s, three: %s}, source: invented}\n", name, w[0],
				w[1], w[2])
		case "feature":
			features += fmt.Sprintf("      %s: {seen: {spot: %s}, source: invented}\n", name, w[0])
		default:
			r := t.ranges[s]
			typical := ""
			if q := m.tests[i].typicalOf(s); q != nil {
				typical = fmt.Sprintf("typical: [%.17g, %.17g], ", q[0], q[1])
			}
			properties += fmt.Sprintf("      %s: {range: [%.17g, %.17g], %stolerance: %g, source: invented}\n", name,
				r[0], r[1], typical, t.tol)
		}
	}
	out := ""
	for _, part := range []struct{ key, text string }{{"properties", properties}, {"outcomes", outcomes},
		{"features", features}} {
		if part.text != "" {
			out += "    " + part.key + ":\n" + part.text
		}
	}
	return out
}

// typicalOf is the typical part of a stone's range, or nil.
func (t *modelTest) typicalOf(s int) *[2]float64 {
	r := t.ranges[s]
	if !t.typical[s] || r[0] == r[1] {
		return nil
	}
	quarter := (r[1] - r[0]) / 4
	return &[2]float64{r[0] + quarter, r[1] - quarter}
}
