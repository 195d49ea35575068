package engine

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/load"
	"whystone/kb/vocab"
)

// The model for measuring speed: 16 quantities, 16 choices and 8 sets of features, 150 materials, 300 rules of 1 to 4
// leaves, all invented and drawn from a fixed seed. It says nothing of real stones.

const (
	speedMaterials = 150
	speedRules     = 300
	speedCases     = 4096
	speedReadings  = 8
)

// speedLeaf is a leaf of a rule: a quantity above or below a cut, a choice among some, a feature seen.
type speedLeaf struct {
	kind   vocab.Kind
	n      int // of the observable of its kind
	above  bool
	cut    float64
	among  []int
	not    bool
	wanted int
}

// speedRule is a rule as a list of leaves that are joined by "and" or "or".
type speedRule struct {
	or     bool
	leaves []speedLeaf
}

func (l speedLeaf) String() string {
	var s string
	switch l.kind {
	case vocab.Quantity:
		s = fmt.Sprintf("quantity_%d %s %g", l.n, map[bool]string{true: ">", false: "<="}[l.above], l.cut)
	case vocab.Choice:
		var words []string
		for _, w := range l.among {
			words = append(words, fmt.Sprintf("\"outcome %d\"", w))
		}
		s = fmt.Sprintf("choice_%d in [%s]", l.n, strings.Join(words, ", "))
	default:
		s = fmt.Sprintf("\"feature %d\" in features_%d", l.wanted, l.n)
	}
	if l.not {
		return "not (" + s + ")"
	}
	return s
}

func (r speedRule) String() string {
	var parts []string
	for _, l := range r.leaves {
		parts = append(parts, l.String())
	}
	return strings.Join(parts, map[bool]string{true: " or ", false: " and "}[r.or])
}

// families tells whether the rule rests on several families, and one of them.
func (r speedRule) families() (several bool, family int) {
	for _, l := range r.leaves {
		several = several || l.n%8 != r.leaves[0].n%8
	}
	return several, r.leaves[0].n % 8
}

func drawSpeedRules(n int) []speedRule {
	rng := rand.New(rand.NewPCG(7, 11))
	var rules []speedRule
	for range n {
		r := speedRule{or: rng.IntN(4) == 0}
		for range 1 + rng.IntN(4) {
			l := speedLeaf{kind: vocab.Kind(rng.IntN(3)), not: rng.IntN(5) == 0}
			switch l.kind {
			case vocab.Quantity:
				l.n, l.above, l.cut = rng.IntN(16), rng.IntN(2) == 0, math.Round(100+rng.Float64()*200)/100
			case vocab.Choice:
				l.n = rng.IntN(16)
				for w := range 6 {
					if rng.IntN(2) == 0 {
						l.among = append(l.among, w)
					}
				}
				if len(l.among) == 0 {
					l.among = []int{0}
				}
			default:
				l.n, l.wanted = rng.IntN(8), rng.IntN(10)
			}
			r.leaves = append(r.leaves, l)
		}
		rules = append(rules, r)
	}
	return rules
}

// speedText is the model as files.
func speedText(rules []speedRule) fstest.MapFS { return speedModel(rules, speedMaterials) }

// speedModel is the model with so many materials, at least one for each of its 40 groups.
func speedModel(rules []speedRule, count int) fstest.MapFS {
	var tests, materials, text strings.Builder
	tests.WriteString("format: 1\ntests:\n")
	for i := range 16 {
		fmt.Fprintf(&tests, "  - test: measuring-%d\n    name: measuring %d\n    harm: none\n    source: invented\n  "+
			"  yields:\n"+
			"      quantity_%d: {kind: quantity, family: family-%d, unit: \"1\", span: [0.5, 4], uncertainty: 0.01, "+
			"resolution: 0.01, blunder: 0.01}\n", i, i, i, i%8)
		fmt.Fprintf(&tests, "  - test: looking-%d\n    name: looking %d\n    harm: none\n    source: invented\n    "+
			"yields:\n"+
			"      choice_%d: {kind: choice, family: family-%d, blunder: 0.03, choices: [outcome 0, outcome 1, "+
			"outcome 2, outcome 3, outcome 4, outcome 5]}\n", i, i, i, i%8)
	}
	for i := range 8 {
		fmt.Fprintf(&tests, "  - test: searching-%d\n    name: searching %d\n    harm: none\n    source: invented\n  "+
			"  yields:\n"+
			"      features_%d: {kind: features, family: family-%d, blunder: 0.02, features: {", i, i, i, i)
		for f := range 10 {
			fmt.Fprintf(&tests, "feature %d: {background: 0.1}, ", f)
		}
		tests.WriteString("}}\n")
	}
	rng := rand.New(rand.NewPCG(3, 5))
	materials.WriteString("format: 1\nmaterials:\n  - group: all\n    name: all\n")
	for g := range 40 {
		fmt.Fprintf(&materials, "  - group: group-%d\n    under: all\n    name: group %d\n    nameable: true\n", g, g)
	}
	for m := range count {
		fmt.Fprintf(&materials, "  - material: material-%d\n    under: group-%d\n    name: material %d\n    origin: "+
			"natural\n    seen_at_counter: %s\n    properties:\n",
			m, m%40, m, []string{"everyday", "common", "occasional", "rare"}[rng.IntN(4)])
		for q := range 16 {
			lo := 1 + rng.Float64()*1.8
			fmt.Fprintf(&materials, "      quantity_%d: {range: [%.3f, %.3f], source: invented}\n", q, lo,
				lo+0.05+rng.Float64()*0.8)
		}
		materials.WriteString("    outcomes:\n")
		for c := range 16 {
			fmt.Fprintf(&materials, "      choice_%d: {seen: {outcome %d: usually, outcome %d: sometimes, outcome "+
				"%d: never}, source: invented}\n", c, m%6, (m+1+c%2)%6, (m+3)%6)
		}
	}
	text.WriteString("format: 1\nrules:\n")
	for i, r := range rules {
		fmt.Fprintf(&text, "  - rule: rule-%d\n    says: invented\n    if: '%s'\n    source: invented\n", i, r)
		switch i % 10 {
		case 0:
			if several, family := r.families(); several {
				fmt.Fprintf(&text, "    family: family-%d\n", family)
			}
			fmt.Fprintf(&text, "    supports: {materials: [group-%d], ratio: 3}\n", i%40)
		default:
			text.WriteString("    cautions: [invented]\n")
		}
	}
	return fstest.MapFS{"tests.yaml": {Data: []byte(tests.String())},
		"materials.yaml": {Data: []byte(materials.String())},
		"rules.yaml":     {Data: []byte(text.String())}, "policy.yaml": {Data: []byte(speedPolicy)}}
}

const speedPolicy = `format: 1
policy:
  time_zone: UTC
  currency: EUR
  frequency: {always: 0.98, usually: 0.85, often: 0.5, sometimes: 0.2, rarely: 0.03, never: 0}
  strength: {weak: 3}
  scale: [{from: 1, says: weak}]
  seen_at_counter: {everyday: 100, common: 30, occasional: 10, rare: 1}
  required: [{stake: 0, share: 0.95, doubt_limit: 0.15}]
`

func loadSpeed(tb testing.TB, files fstest.MapFS) *kb.Ruleset {
	tb.Helper()
	rs, l := load.Load(tb.Context(), []load.Layer{{Name: "speed", FS: files}})
	if rs == nil {
		var b strings.Builder
		if err := diag.WriteText(&b, l, diag.TextOptions{Width: 100}); err != nil {
			tb.Fatal(err)
		}
		tb.Fatal(b.String())
	}
	return rs
}

// drawSpeedCases draws cases of materials of the model: readings from the material's own sheet, one in twenty a
// blunder.
func drawSpeedCases(rs *kb.Ruleset, n int) []*casefile.Case {
	rng := rand.New(rand.NewPCG(13, 17))
	obs := rs.Vocabulary.Observables
	var out []*casefile.Case
	for k := range n {
		m := rs.Leaves[rng.IntN(len(rs.Leaves))]
		c := &casefile.Case{ID: fmt.Sprint(k)}
		for _, i := range rng.Perm(len(obs))[:speedReadings] {
			c.Readings = append(c.Readings, drawSpeedReading(rng, rs, m, obs[i]))
		}
		out = append(out, sortReadings(c))
	}
	return out
}

func sortReadings(c *casefile.Case) *casefile.Case {
	for i := range c.Readings {
		for j := i; j > 0 && c.Readings[j].Observable.Index < c.Readings[j-1].Observable.Index; j-- {
			c.Readings[j], c.Readings[j-1] = c.Readings[j-1], c.Readings[j]
		}
	}
	return c
}

func drawSpeedReading(rng *rand.Rand, rs *kb.Ruleset, m *kb.Material, o *vocab.Observable) *casefile.Reading {
	y := rs.Vocabulary.Yield(o.Test, o)
	r := &casefile.Reading{Observable: o, Tests: []string{o.Test}, Blunder: y.Blunder, Repeats: 1, U: y.Uncertainty,
		Noise: y.Uncertainty}
	blunder := rng.IntN(20) == 0
	switch o.Kind {
	case vocab.Quantity:
		p := m.Ranges[o.Property]
		r.Value = p.Low + rng.Float64()*(p.High-p.Low)
		if blunder {
			r.Value = 1 + rng.Float64()*2
		}
		r.Value = math.Round(r.Value*1000) / 1000
	case vocab.Choice:
		r.Form = casefile.Choice
		r.Outcome = rng.IntN(len(o.Outcomes))
		if w := m.Choices[o.Name].Words[o.Outcomes[r.Outcome].Name]; !blunder && w == "never" {
			r.Outcome = (r.Outcome + 1) % len(o.Outcomes)
		}
		r.Blunder = y.Outcome[r.Outcome]
	default:
		r.Form = casefile.Features
		for i := range o.Outcomes {
			switch rng.IntN(3) {
			case 0:
				r.Seen.Add(i)
				r.LookedFor.Add(i)
			case 1:
				r.LookedFor.Add(i)
			}
		}
		r.Seen.Add(0)
		r.LookedFor.Add(0)
	}
	return r
}

var speedDate = time.Date(2031, 4, 12, 0, 0, 0, 0, time.UTC)
