package proofread

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"testing/fstest"

	"whystone/kb"
	"whystone/kb/load"
)

// The model for measuring speed: 16 quantities, 16 choices and 8 sets of features, 150 materials in 30 groups, and
// rules as a large house might have them, drawn from a fixed seed: half of them weigh groups or exclude what a
// condition over the sheets names, some establish facts that others read, set readings aside, advise or warn. It says
// nothing of real stones.
type speedModel struct {
	rng   *rand.Rand
	facts int
}

const (
	speedMaterials = 150
	speedGroups    = 30
)

func speedRuleset(t testing.TB, rules int) *kb.Ruleset {
	t.Helper()
	return loaded(t, load.Layer{Name: "speed", FS: speedFiles(rules)})
}

func speedFiles(rules int) fstest.MapFS {
	m := speedModel{rng: rand.New(rand.NewPCG(7, 11)), facts: max(rules/20, 1)}
	return fstest.MapFS{"tests.yaml": {Data: []byte(m.tests())}, "materials.yaml": {Data: []byte(m.materials())},
		"rules.yaml": {Data: []byte(m.rules(rules))}, "policy.yaml": {Data: []byte(`format: 1
policy:
  time_zone: UTC
  currency: EUR
  frequency: {always: 0.98, usually: 0.85, often: 0.5, sometimes: 0.2, rarely: 0.03, never: 0}
  strength: {weak: 3}
  scale: [{from: 1, says: weak}]
  seen_at_counter: {everyday: 100, common: 30, rare: 1}
  required: [{stake: 0, share: 0.95, doubt_limit: 0.15}]
`)}}
}

func (m *speedModel) tests() string {
	var b strings.Builder
	b.WriteString("format: 1\ntests:\n")
	for i := range 16 {
		fmt.Fprintf(&b, "  - test: measuring-%d\n    name: measuring %d\n    harm: none\n    source: invented\n    "+
			"yields:\n"+
			"      quantity_%d: {kind: quantity, family: family-%d, unit: \"1\", span: [0.5, 4], uncertainty: 0.01, "+
			"blunder: 0.01}\n", i, i, i, i%8)
		fmt.Fprintf(&b, "  - test: looking-%d\n    name: looking %d\n    harm: none\n    source: invented\n    "+
			"yields:\n"+
			"      choice_%d: {kind: choice, family: family-%d, blunder: 0.03, choices: [outcome 0, outcome 1, "+
			"outcome 2, outcome 3, outcome 4, outcome 5]}\n", i, i, i, i%8)
	}
	for i := range 8 {
		fmt.Fprintf(&b, "  - test: searching-%d\n    name: searching %d\n    harm: none\n    source: invented\n    "+
			"yields:\n"+
			"      features_%d: {kind: features, family: family-%d, blunder: 0.02, features: {", i, i, i, i)
		for f := range 10 {
			fmt.Fprintf(&b, "feature %d: {background: 0.1}, ", f)
		}
		b.WriteString("}}\n")
	}
	return b.String()
}

func (m *speedModel) materials() string {
	var b strings.Builder
	b.WriteString("format: 1\nmaterials:\n  - group: all\n    name: all\n")
	for g := range speedGroups {
		fmt.Fprintf(&b, "  - group: group-%d\n    under: all\n    name: group %d\n    nameable: true\n", g, g)
	}
	for i := range speedMaterials {
		fmt.Fprintf(&b, "  - material: material-%d\n    under: group-%d\n    name: material %d\n    origin: "+
			"natural\n    seen_at_counter: common\n    properties:\n",
			i, i%speedGroups, i)
		for q := range 16 {
			lo := 1 + m.rng.Float64()*1.8
			fmt.Fprintf(&b, "      quantity_%d: {range: [%.3f, %.3f], source: invented}\n", q, lo,
				lo+0.02+m.rng.Float64()*0.3)
		}
		b.WriteString("    outcomes:\n")
		for c := range 16 {
			fmt.Fprintf(&b, "      choice_%d: {seen: {outcome %d: usually, outcome %d: sometimes, outcome %d: "+
				"never}, source: invented}\n", c, i%6, (i+1+c%2)%6, (i+3)%6)
		}
	}
	return b.String()
}

// leaf draws a part of a condition and the family that it rests on.
func (m *speedModel) leaf() (text string, family int) {
	n := m.rng.IntN(16)
	switch m.rng.IntN(5) {
	case 0, 1:
		return fmt.Sprintf("quantity_%d %s %.2f", n, []string{">", "<="}[m.rng.IntN(2)], 1+m.rng.Float64()*2), n % 8
	case 2:
		lo := 1 + m.rng.Float64()*2
		return fmt.Sprintf("%.2f <= quantity_%d <= %.2f", lo, n, lo+0.2), n % 8
	case 3:
		at := m.rng.Perm(6)[:1+m.rng.IntN(3)]
		var words []string
		for _, w := range at {
			words = append(words, fmt.Sprintf("\"outcome %d\"", w))
		}
		return fmt.Sprintf("choice_%d in [%s]", n, strings.Join(words, ", ")), n % 8
	}
	n %= 8
	return fmt.Sprintf("\"feature %d\" in features_%d", m.rng.IntN(10), n), n
}

// condition draws up to four parts, sometimes with an "or" among them.
func (m *speedModel) condition() (text string, family int) {
	text, family = m.leaf()
	for range m.rng.IntN(4) {
		more, _ := m.leaf()
		if m.rng.IntN(5) == 0 {
			other, _ := m.leaf()
			more = "(" + more + " or not (" + other + "))"
		}
		text += " and " + more
	}
	return text, family
}

func (m *speedModel) rules(n int) string {
	var b strings.Builder
	b.WriteString("format: 1\nrules:\n")
	for i := range n {
		text, family := m.condition()
		if i >= m.facts && m.rng.IntN(7) == 0 {
			text += fmt.Sprintf(" and fact_%d", m.rng.IntN(m.facts))
		}
		follows := fmt.Sprintf("    cautions: [invented %d]\n", i)
		group, q := m.rng.IntN(speedGroups), m.rng.IntN(16)
		switch kind := m.rng.IntN(20); {
		case i < m.facts:
			follows = fmt.Sprintf("    establishes: {fact_%d: true}\n", i)
		case i%150 == 149: // a reading of the stone alone, so that there is no circle
			text, follows = fmt.Sprintf("stone.wet and stone.carat < 0.%d", 1+m.rng.IntN(9)),
				fmt.Sprintf("    sets_aside: [choice_%d]\n", m.rng.IntN(16))
		case kind < 5:
			cut := 1.2 + m.rng.Float64()
			text += fmt.Sprintf(" and quantity_%d > %.2f", q, cut)
			follows = fmt.Sprintf("    family: family-%d\n    excludes: {where: material.quantity_%d.high < %.2f}\n",
				q%8, q, cut)
		case kind < 10:
			follows = fmt.Sprintf("    supports: {materials: [group-%d], ratio: %d}\n", group, 2+m.rng.IntN(20))
		case kind < 12:
			follows = fmt.Sprintf("    weakens: {materials: [group-%d], ratio: %d}\n", group, 2+m.rng.IntN(20))
		case kind < 14:
			follows = fmt.Sprintf("    calls_for: [measuring-%d]\n", q)
		}
		if (strings.Contains(follows, "supports") || strings.Contains(follows, "weakens")) &&
			strings.Contains(text, " and ") {
			follows += fmt.Sprintf("    family: family-%d\n", family)
		}
		fmt.Fprintf(&b, "  - rule: rule-%d\n    says: invented\n    if: '%s'\n    source: invented\n%s    "+
			"examples:\n      - {readings: {}, is: undecided}\n      - {readings: {}, is: undecided}\n", i, text,
			follows)
	}
	return b.String()
}

var speedSizes = []int{300, 3000}

func BenchmarkProofread(b *testing.B) {
	for _, n := range speedSizes {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			rs := speedRuleset(b, n)
			for b.Loop() {
				r := report(b, rs)
				b.ReportMetric(float64(len(r.Findings)), "findings")
			}
		})
	}
}

// BenchmarkLoad is the baseline: loading the same files.
func BenchmarkLoad(b *testing.B) {
	for _, n := range speedSizes {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			files := speedFiles(n)
			for b.Loop() {
				loaded(b, load.Layer{Name: "speed", FS: files})
			}
		})
	}
}
