package proofread

import (
	"fmt"
	"slices"
	"testing"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/logic"
	"whystone/kb/syntax"
)

// points lie at, between and beyond the thresholds that are drawn, and beside are the other ends of intervals that lie
// between two of them: so every way in which an interval may lie is there.
var (
	points = []string{"1.45", "1.5", "1.55", "1.6", "1.62", "1.65", "1.67", "1.7", "1.72"}
	beside = map[string]string{"1.45": "1.46", "1.55": "1.56", "1.62": "1.63", "1.67": "1.68", "1.72": "1.73"}
)

// cells lists what a case may say of an observable, in YAML, as far as conditions that are drawn can tell readings
// apart.
func cells(of string) (readings, stones []string) {
	out := []string{""}
	switch of {
	case "ri":
		out = append(out, "ri: {inconclusive: it stayed open}")
		for i, lo := range points {
			highs := points[i+1:]
			if b, ok := beside[lo]; ok {
				highs = append([]string{b}, highs...)
			}
			for _, hi := range highs {
				out = append(out, fmt.Sprintf("ri: {between: [%s, %s]}", lo, hi))
			}
		}
	case "colour":
		words := []string{"colourless", "blue", "red"}
		out = append(out, "colour: {inconclusive: it stayed open}")
		for set := 1; set < 8; set++ {
			text := ""
			for i, w := range words {
				if set>>i&1 == 1 {
					text += fmt.Sprintf("{choice: %s, where: place %d}, ", w, i)
				}
			}
			out = append(out, "colour: ["+text+"]")
		}
	case "inclusions":
		out = append(out, "inclusions: {inconclusive: it stayed open}")
		for a := range 3 {
			for b := range 3 {
				seen, looked := "crystal, ", ""
				for i, name := range []string{"feather", "needles"} {
					switch []int{a, b}[i] {
					case 0:
						seen += name + ", "
					case 1:
						looked += name + ", "
					}
				}
				out = append(out, "inclusions: {features: ["+seen+"], looked_for: ["+looked+"]}")
			}
		}
	case "stone":
		return nil, []string{"", "wet: true", "wet: false"}
	}
	return out, nil
}

// grid calls f for every case over some observables, with the run in which the rules were applied to it.
func grid(t testing.TB, rs *kb.Ruleset, of []string, f func(*eval.Run)) {
	t.Helper()
	var read [][][]*casefile.Reading
	stones := []casefile.Stone{{}}
	for _, o := range of {
		readings, wet := cells(o)
		var list [][]*casefile.Reading
		for _, text := range readings {
			list = append(list, readCase(t, rs, "format: 1\ncase: cell\nreadings: {"+text+"}\n").Readings)
		}
		if list != nil {
			read = append(read, list)
		}
		for _, text := range wet[min(1, len(wet)):] {
			stones = append(stones, readCase(t, rs, "format: 1\ncase: cell\nstone: {"+text+"}\nreadings: {}\n").Stone)
		}
	}
	run := eval.New(rs)
	var fill func(int, *casefile.Case)
	fill = func(i int, c *casefile.Case) {
		if i == len(read) {
			for _, s := range stones {
				c.Stone = s
				run.Do(c, on)
				f(run)
			}
			return
		}
		had := c.Readings
		for _, list := range read[i] {
			c.Readings = slices.Concat(had, list)
			fill(i+1, c)
		}
		c.Readings = had
	}
	fill(0, &casefile.Case{ID: "grid"})
}

func readCase(t testing.TB, rs *kb.Ruleset, text string) *casefile.Case {
	t.Helper()
	var out diag.List
	roots := syntax.ParseYAML(diag.NewSource("case.yaml", []byte(text)), &out)
	if len(roots) != 1 {
		t.Fatal(text, out)
	}
	c := eval.CaseReader(rs).Read(roots[0], &out)
	if c == nil || out.HasErrors() {
		t.Fatalf("%s%s", text, out.Error())
	}
	return c
}

// facts of firing over a grid: of each rule, and of each pair.
type firing struct {
	ever     []bool   // it fires in some case
	together [][]bool // both fire in some case
	alone    [][]bool // the first fires in some case and the second doesn't
	failsNot [][]bool // the first fails in some case and the second doesn't
}

// brute finds them out by running all rules on all cases of the grid.
func brute(t testing.TB, rs *kb.Ruleset, rules []*kb.Rule, of []string) *firing {
	n := len(rules)
	out := &firing{ever: make([]bool, n)}
	for range n {
		out.together, out.alone, out.failsNot = append(out.together, make([]bool, n)),
			append(out.alone, make([]bool, n)), append(out.failsNot, make([]bool, n))
	}
	is := make([]logic.Value, n)
	grid(t, rs, of, func(run *eval.Run) {
		for i, r := range rules {
			is[i] = run.Rules[r.Turn]
		}
		for i, a := range is {
			out.ever[i] = out.ever[i] || a == logic.Holds
			for j, b := range is {
				out.together[i][j] = out.together[i][j] || a == logic.Holds && b == logic.Holds
				out.alone[i][j] = out.alone[i][j] || a == logic.Holds && b != logic.Holds
				out.failsNot[i][j] = out.failsNot[i][j] || a == logic.Fails && b != logic.Fails
			}
		}
	})
	return out
}
