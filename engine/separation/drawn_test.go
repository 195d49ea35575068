package separation

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"testing/fstest"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/load"
)

// drawn is an invented ruleset drawn from a seed: it says nothing of real stones. What it says of one test hangs on the
// seed and the test's number alone, so that the ruleset with one test less is the same but for that test.
type drawn struct {
	seed             uint64
	materials, tests int
	rules            int  // for each test
	without          int  // the number of a test that is left out; -1: none
	tame             bool // every test is harmless, can be done and is not forbidden
}

func (d drawn) rng(what, n int) *rand.Rand {
	return rand.New(rand.NewPCG(d.seed, uint64(what)<<32|uint64(n)))
}

func loaded(tb testing.TB, files fstest.MapFS) *kb.Ruleset {
	tb.Helper()
	rs, l := load.Load(tb.Context(), []load.Layer{{Name: "drawn", FS: files}})
	if rs == nil {
		var b strings.Builder
		if err := diag.WriteText(&b, l, diag.TextOptions{Width: 100}); err != nil {
			tb.Fatal(err)
		}
		tb.Fatal(b.String())
	}
	return rs
}

func (d drawn) engine(tb testing.TB) *engine.Engine {
	tb.Helper()
	return engine.Prepare(loaded(tb, d.files()))
}

// The kinds of tests, in turn: the refractometer gives index and double refraction; a prism gives the index again.
const (
	measuring = iota
	choosing
	searching
	turning
	prism
	reckoning
	kinds
)

func (d drawn) files() fstest.MapFS {
	var tests, materials, rules strings.Builder
	tests.WriteString("format: 1\ntests:\n")
	rules.WriteString("format: 1\nrules:\n  - rule: nothing\n    says: invented\n    if: stone.wet\n    cautions: " +
		"[invented]\n    source: invented\n")
	for k := range d.tests {
		if k != d.without {
			d.test(&tests, k)
			d.rulesOf(&rules, k)
		}
	}
	materials.WriteString("format: 1\nmaterials:\n  - {group: all, name: all}\n")
	groups := max(1, d.materials/4)
	for g := range groups {
		fmt.Fprintf(&materials, "  - {group: group-%d, under: all, name: group %d, nameable: %t}\n", g, g, g%3 != 2)
		if groups+g < d.materials {
			fmt.Fprintf(&materials, "  - {group: inner-%d, under: group-%d, name: inner %d}\n", g, g, g)
		}
	}
	for m := range d.materials {
		d.material(&materials, m, groups)
	}
	return fstest.MapFS{"tests.yaml": {Data: []byte(tests.String())},
		"materials.yaml": {Data: []byte(materials.String())},
		"rules.yaml":     {Data: []byte(rules.String())}, "policy.yaml": {Data: []byte(drawnPolicy)}}
}

const drawnPolicy = `format: 1
policy:
  time_zone: UTC
  currency: EUR
  frequency: {always: 0.98, usually: 0.85, often: 0.5, sometimes: 0.2, rarely: 0.03, never: 0}
  strength: {weak: 3}
  scale: [{from: 1, says: weak}]
  seen_at_counter: {everyday: 100, common: 30, occasional: 10, rare: 1}
  required: [{stake: 0, share: 0.95, doubt_limit: 0.15}]
`

// kind is that of a test; there is one index and one double refraction only.
func kind(k int) int {
	if k >= kinds && (k%kinds == turning || k%kinds == prism) {
		return measuring
	}
	return k % kinds
}

func (d drawn) test(b *strings.Builder, k int) {
	rng := d.rng(1, k)
	harm := []string{"none", "none", "none", "contact", "contact", "marks"}[rng.IntN(6)]
	if kind(k) == turning || d.tame && harm == "marks" {
		harm = "contact" // a prism that yields the index needs the sheet that declares it
	}
	fmt.Fprintf(b, "  - test: test-%02d\n    name: test %d\n    harm: %s\n    source: invented\n", k, k, harm)
	switch needs := rng.IntN(8); {
	case needs == 0 && !d.tame:
		b.WriteString("    needs: [{if: stone.mounted, says: A mounted stone.}]\n")
	case needs == 1:
		b.WriteString("    needs: [{if: not stone.mounted, says: A loose stone.}]\n")
	}
	b.WriteString("    yields:\n")
	blunder := []float64{0.01, 0.05, 0.3}[rng.IntN(3)]
	quantity := "kind: quantity, family: family-%d, unit: \"1\", span: [0.5, 4], uncertainty: 0.01, resolution: " +
		"0.01, blunder: %g"
	switch kind(k) {
	case measuring:
		fmt.Fprintf(b, "      q_%d: {"+quantity+", limits: [1.2, 2.4]}\n", k, k%8, blunder)
	case choosing:
		fmt.Fprintf(b, "      c_%d: {kind: choice, family: family-%d, blunder: %g, choices: {a: {}, b: {}, c: {}, d: "+
			"{}, a or b: {covers: [a, b], blunder: 0.1}}}\n", k, k%8, blunder)
	case searching:
		fmt.Fprintf(b, "      f_%d: {kind: features, family: family-%d, blunder: %g, features: {x: {background: "+
			"0.02}, y: {background: 0.3}, z: {}}}\n", k, k%8, blunder)
	case turning:
		fmt.Fprintf(b, "      ri: {"+quantity+", limits: [0.5, 2.2]}\n", 0, blunder)
		fmt.Fprintf(b, "      birefringence: {kind: quantity, family: family-1, unit: \"1\", span: [0, 0.5], "+
			"uncertainty: 0.01, blunder: %g}\n", blunder)
	case prism:
		if d.without == turning {
			fmt.Fprintf(b, "      q_%d: {"+quantity+"}\n", k, 0, blunder)
			return
		}
		fmt.Fprintf(b, "      ri: {uncertainty: 0.004, blunder: %g}\n", blunder)
	case reckoning:
		fmt.Fprintf(b, "      q_%d: {"+quantity+
			", derived: [{is: stone.carat * 100 / (stone.length_mm * stone.width_mm * stone.depth_mm), relative: "+
			"0.02, says: invented, source: invented}]}\n", k, k%8, blunder)
	}
}

var drawnWords = []string{"always", "usually", "often", "sometimes", "rarely", "never"}

// rulesOf draws what rules make of the readings of a test.
func (d drawn) rulesOf(b *strings.Builder, k int) {
	rng := d.rng(2, k)
	for r := range d.rules {
		name, cond := fmt.Sprintf("rule-%d-%d", k, r), ""
		switch kind(k) {
		case measuring, reckoning:
			cond = fmt.Sprintf("q_%d > %.2f", k, 1+rng.Float64()*2)
		case choosing:
			cond = fmt.Sprintf("c_%d == \"%c\"", k, 'a'+rune(rng.IntN(4)))
		case searching:
			cond = fmt.Sprintf("\"%c\" in f_%d", 'x'+rune(rng.IntN(3)), k)
		default:
			return
		}
		name += "\n    says: invented\n    source: invented\n    if: '" + cond + "'"
		m := rng.IntN(d.materials)
		switch rng.IntN(7) {
		case 0:
			fmt.Fprintf(b, "  - rule: %s\n    excludes: [material-%03d]\n", name, m)
		case 3:
			fmt.Fprintf(b, "  - rule: %s\n    excludes: [group-0]\n", name)
		case 1:
			fmt.Fprintf(b, "  - rule: %s\n    supports: {materials: [material-%03d], ratio: 12}\n", name, m)
		case 2:
			fmt.Fprintf(b, "  - rule: %s\n    weakens: {materials: [material-%03d], ratio: 40}\n", name, m)
		default:
			fmt.Fprintf(b, "  - rule: %s\n    cautions: [invented]\n", name)
		}
	}
	switch what := rng.IntN(12); {
	case what == 0 && !d.tame:
		fmt.Fprintf(b, "  - {rule: forbidden-%d, says: invented, source: invented, forbids: [test-%02d]}\n", k, k)
	case what == 1 && kind(k) == choosing:
		fmt.Fprintf(b, "  - {rule: aside-%d, says: invented, source: invented, sets_aside: [c_%d]}\n", k, k)
	}
}

func (d drawn) material(b *strings.Builder, m, groups int) {
	rng := d.rng(3, m)
	under := fmt.Sprintf("group-%d", m%groups)
	if m/groups%3 == 1 {
		under = fmt.Sprintf("inner-%d", m%groups)
	}
	fmt.Fprintf(b, "  - material: material-%03d\n    under: %s\n    name: material %d\n    origin: natural\n    "+
		"seen_at_counter: %s\n",
		m, under, m, []string{"everyday", "common", "occasional", "rare"}[rng.IntN(4)])
	var of [3]strings.Builder
	for k := range d.tests {
		if k != d.without {
			d.says(&of, m, k)
		}
	}
	for i, head := range []string{"properties", "outcomes", "features"} {
		if of[i].Len() > 0 {
			fmt.Fprintf(b, "    %s:\n%s", head, of[i].String())
		}
	}
}

// says draws what a material's sheet says of one test; some of it by a twin of the material, so that pairs are alike.
func (d drawn) says(of *[3]strings.Builder, m, k int) {
	if d.rng(4, m).IntN(3) > 0 {
		m -= m % 2
	}
	rng := d.rng(5, m<<12|k)
	low := 1 + rng.Float64()*1.4
	width := []float64{0, 0.02, 0.1, 0.6}[rng.IntN(4)]
	typical := ""
	if width > 0 && rng.IntN(3) == 0 {
		typical = fmt.Sprintf(", typical: [%.3f, %.3f]", low+width*0.25, low+width*0.75)
	}
	if rng.IntN(5) == 0 {
		return // the sheet says nothing
	}
	word := func() string { return drawnWords[rng.IntN(len(drawnWords))] }
	switch kind(k) {
	case measuring, reckoning:
		fmt.Fprintf(&of[0], "      q_%d: {range: [%.3f, %.3f]%s, tolerance: 0.01, source: invented}\n", k, low,
			low+width, typical)
	case choosing:
		fmt.Fprintf(&of[1], "      c_%d: {seen: {a: %s, b: %s, c: %s}, source: invented}\n", k, word(), word(),
			"sometimes")
	case searching:
		fmt.Fprintf(&of[2], "      f_%d: {seen: {x: %s, y: %s}, source: invented}\n", k, word(), word())
	case turning:
		fmt.Fprintf(&of[0], "      ri: {range: [%.3f, %.3f]%s, source: invented}\n", low, low+width, typical)
		if rng.IntN(4) > 0 {
			fmt.Fprintf(&of[0], "      birefringence: {range: [%.3f, %.3f], source: invented}\n", width/4, width/2)
		}
	}
}
