package answers

import (
	"encoding/json"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"whystone/engine"
	"whystone/engine/enginetest"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/kbtest"
)

// everything is all answers to one case, as JSON: why not for every node, and the rest.
func everything(tb testing.TB, a *Asker, judge *engine.Judge, c *casefile.Case) []string {
	var out []string
	for _, m := range a.rs.Nodes {
		w, err := a.WhyNot(c, noon, m.ID)
		if err != nil {
			tb.Fatal(err)
		}
		out = append(out, toJSON(tb, w))
	}
	for _, v := range []any{a.Rests(c, noon), a.Change(c, noon), a.Contradiction(c, noon), a.Waiting(c, noon),
		a.Short(c, noon, judge.Explain(c, noon))} {
		out = append(out, toJSON(tb, v))
	}
	return out
}

// sentences lists every text under "says", "because" and "missing" of a JSON value, but not under those kinds of step
// that tell the engine's own chain.
func sentences(v any, out *[]string) {
	switch v := v.(type) {
	case map[string]any:
		if kind, _ := v["kind"].(string); slices.Contains([]string{"rule", "evidence", "set-aside", "claim", "unclear"},
			kind) && v["step"] != nil {
			return
		}
		for k, x := range v {
			text, ok := x.(string)
			if ok && k == "says" {
				*out = append(*out, text)
			}
			if list, ok := x.([]any); ok && (k == "because" || k == "missing") {
				for _, w := range list {
					if text, ok := w.(string); ok {
						*out = append(*out, text)
					}
				}
			}
			sentences(x, out)
		}
	case []any:
		for _, x := range v {
			sentences(x, out)
		}
	}
}

// unitPercent is the unit of reflectance.
var unitPercent = regexp.MustCompile(`(\d) percent`)

// ours is a sentence without what authors of rules and cases wrote into it.
func ours(rs *kb.Ruleset, c *casefile.Case, text string) string {
	for _, r := range rs.Rules {
		said := strings.TrimRight(r.Says, ". ")
		text = strings.ReplaceAll(text, said, "...")
	}
	text = unitPercent.ReplaceAllString(text, "$1")
	for _, r := range c.Readings {
		if r.Reason != "" {
			text = strings.ReplaceAll(text, r.Reason, "...")
		}
	}
	return text
}

// TestNoBannedWords reads every sentence of every answer to the demo cases and to drawn ones.
func TestNoBannedWords(t *testing.T) {
	rs := loaded(t)
	e := engine.Prepare(rs)
	a, judge := New(e), e.NewJudge()
	seen := map[string]bool{}
	each(allCases(t, rs, rounds(40), 8), func(name string, c *casefile.Case) {
		for _, text := range everything(t, a, judge, c) {
			var v any
			if err := json.Unmarshal([]byte(text), &v); err != nil {
				t.Fatal(err)
			}
			var list []string
			sentences(v, &list)
			for _, s := range list {
				if seen[s] {
					continue
				}
				seen[s] = true
				if bad := enginetest.Banned(ours(rs, c, s)); len(bad) > 0 {
					t.Errorf("%s: %q says %q", name, s, bad)
				}
				if strings.Contains(s, "%!") || strings.Contains(s, "..") || strings.Contains(s, "  ") {
					t.Errorf("%s: %q is badly put together", name, s)
				}
			}
		}
	})
	if len(seen) < 500 {
		t.Errorf("only %d sentences", len(seen))
	}
}

// TestSameBytes asks twice, in another order, and anew: the bytes are the same.
func TestSameBytes(t *testing.T) {
	rs := loaded(t)
	e := engine.Prepare(rs)
	a, judge := New(e), e.NewJudge()
	cases := allCases(t, rs, 10, 8)
	first := map[string][]string{}
	each(cases, func(name string, c *casefile.Case) { first[name] = everything(t, a, judge, c) })
	for name, c := range cases { // in the map's order, which is another each time
		if got := everything(t, a, judge, c); !slices.Equal(got, first[name]) {
			t.Errorf("%s: asked again, the answers are others", name)
		}
		if got := everything(t, New(e), e.NewJudge(), c); !slices.Equal(got, first[name]) {
			t.Errorf("%s: asked anew, the answers are others", name)
		}
	}
}

// TestShape holds that each answer says its format first and has no null where a list belongs.
func TestShape(t *testing.T) {
	rs := loaded(t)
	e := engine.Prepare(rs)
	a, judge := New(e), e.NewJudge()
	each(allCases(t, rs, 10, 8), func(name string, c *casefile.Case) {
		for _, text := range everything(t, a, judge, c) {
			if !strings.HasPrefix(text, `{"format":1,`) {
				t.Errorf("%s: %.40s", name, text)
			}
			if rest := strings.ReplaceAll(text, `"ledger":null`, ""); strings.Contains(rest, "null") {
				t.Errorf("%s: null in %s", name, text)
			}
		}
	})
}

// TestGolden pins the words for a few demo cases.
func TestGolden(t *testing.T) {
	rs := loaded(t)
	e := engine.Prepare(rs)
	a, judge := New(e), e.NewJudge()
	cases := demoCases(t, rs)
	var b strings.Builder
	line := func(indent int, text string) { b.WriteString(strings.Repeat("  ", indent) + text + "\n") }
	for _, name := range []string{"01-probe-says-diamond", "03-growth-stays-open", "05-index-against-weight"} {
		c := cases[name]
		line(0, "== "+name)
		for _, id := range []string{"natural-diamond", "cubic-zirconia", "synthetic-moissanite"} {
			w, err := a.WhyNot(c, noon, id)
			if err != nil {
				t.Fatal(err)
			}
			line(0, "why not "+id+": "+w.Says)
			if w.Ledger != nil {
				for _, l := range w.Ledger.Lines {
					line(1, l.Says)
				}
			}
		}
		r := a.Rests(c, noon)
		line(0, r.Says)
		for _, s := range r.Sets {
			line(1, s.Says)
		}
		x := a.Change(c, noon)
		line(0, x.Says)
		for _, s := range x.Changes[:min(4, len(x.Changes))] {
			line(1, s.Says)
		}
		y := a.Contradiction(c, noon)
		line(0, y.Says)
		for _, s := range y.Sets {
			line(1, s.Says)
		}
		w := a.Waiting(c, noon)
		line(0, w.Says)
		for _, s := range w.Rules[:min(2, len(w.Rules))] {
			line(1, s.Says)
		}
		s := a.Short(c, noon, judge.Explain(c, noon))
		line(0, s.Says)
		for _, because := range s.Because {
			line(1, because)
		}
		for _, list := range [][]Reason{s.For, s.Against} {
			for _, reason := range list {
				line(2, reason.Says)
			}
		}
	}
	kbtest.Golden(t, filepath.Join("testdata", "answers.golden"), b.String())
}

// BenchmarkAnswers is all answers to a case of 12 readings: one why not, what it rests on, what would change it, the
// contradiction, the waiting rules and the short chain. The aim is 100 ms.
func BenchmarkAnswers(b *testing.B) {
	rs := loaded(b)
	e := engine.Prepare(rs)
	a, judge := New(e), e.NewJudge()
	for name, c := range map[string]*casefile.Case{"agreeing": twelve(b, rs, "3.99"),
		"contradictory": twelve(b, rs, "5.80")} {
		if len(c.Readings) != 12 {
			b.Fatalf("%d readings", len(c.Readings))
		}
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if _, err := a.WhyNot(c, noon, "cubic-zirconia"); err != nil {
					b.Fatal(err)
				}
				a.Rests(c, noon)
				a.Change(c, noon)
				a.Contradiction(c, noon)
				a.Waiting(c, noon)
				a.Short(c, noon, judge.Explain(c, noon))
			}
		})
	}
}

func twelve(tb testing.TB, rs *kb.Ruleset, density string) *casefile.Case {
	return read(tb, rs, "twelve", `case: twelve
claim: diamond
stone: {mounted: false, warm: false, wet: false, coated: false, carat: 2.05, cut: oval}
readings:
  colour: colourless
  transparency: transparent
  lustre: vitreous
  breath_fog: clears at once
  thermal_probe: below diamond range
  electrical_conduction: does not conduct
  ri: [1.761, 1.769]
  specific_gravity: `+density+`
  polariscope: blinks four times
  facet_doubling: none
  uv_long: inert
  inclusions: {features: [feather], looked_for: [gas bubbles, curved striae]}
`)
}
