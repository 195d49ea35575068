package separation

import (
	"encoding/json"
	"math"
	"slices"
	"testing"
	"time"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// The naive form of the table: every usual reading of every material is written down as a case file would have it, read
// as at intake, judged in full, and the verdict's shares divided by the priors. It shares no code with the table but
// the engine.

var noon = time.Date(2031, 4, 12, 12, 0, 0, 0, time.UTC)

type naive struct {
	tb testing.TB
	rs *kb.Ruleset
	j  *engine.Judge
	// judged keeps what was made of a case, by its text: many materials give the same reading.
	judged map[string][]float64
}

func newNaive(tb testing.TB, e *engine.Engine) *naive {
	return &naive{tb: tb, rs: e.Ruleset, j: e.NewJudge(), judged: map[string][]float64{}}
}

// ratio is the logarithm of how well a test tells one leaf from another, or the other from it.
func (n *naive) ratio(a, b *kb.Material, test *kb.Test) float64 {
	return max(n.from(a, b, test), n.from(b, a, test))
}

func (n *naive) from(a, b *kb.Material, test *kb.Test) float64 {
	best := 0.0
	for _, y := range test.Yields {
		var logs []float64
		for _, says := range n.usual(a, test, y) {
			l := n.likelihoods(says)
			logs = append(logs, math.Log(l[a.Index])-math.Log(l[b.Index]))
			if l[a.Index] == 0 {
				logs[len(logs)-1] = math.Inf(-1)
			}
		}
		slices.Sort(logs)
		switch {
		case len(logs) == 0:
		case y.Observable.Kind == vocab.Quantity:
			best = max(best, logs[1]) // four of five are as large or larger
		default:
			best = max(best, logs[len(logs)-1])
		}
	}
	return best
}

// likelihoods are those of a case by leaf, up to a common factor; 0 of what is excluded.
func (n *naive) likelihoods(says map[string]any) []float64 {
	says["format"], says["case"] = 1, "made by a test"
	text, err := json.Marshal(says)
	if err != nil {
		n.tb.Fatal(err)
	}
	if known := n.judged[string(text)]; known != nil {
		return known
	}
	var found diag.List
	var c *casefile.Case
	if node := syntax.ParseJSON(diag.NewSource("case", text), &found); node != nil {
		c = eval.CaseReader(n.rs).Read(node, &found)
	}
	if c == nil {
		n.tb.Fatalf("%s: %v", text, found)
	}
	n.j.Judge(c, engine.Moment{On: noon, DatedBy: "clock"})
	out := make([]float64, len(n.rs.Leaves))
	// candidates without a sheet share their group's id, so that leaves are asked one by one
	for i, m := range n.rs.Leaves {
		if !n.j.Excluded(i) {
			out[i] = n.j.Share(m) / n.rs.Priors()[i]
		}
	}
	n.judged[string(text)] = out
	return out
}

func (n *naive) usual(leaf *kb.Material, test *kb.Test, y *vocab.Yield) []map[string]any {
	o := y.Observable
	var out []map[string]any
	add := func(r map[string]any) { out = append(out, onBench(test, o, r)) }
	switch {
	case o.Kind != vocab.Quantity:
		for _, c := range worded(leaf, o, "always", "usually") {
			out = append(out, outcomeRead(test, o, c))
		}
	case o.Kind == vocab.Quantity && leaf.Ranges[o.Property] != nil:
		r := leaf.Ranges[o.Property]
		low, high := r.Low, r.High
		if r.Typical != nil {
			low, high = r.Typical[0], r.Typical[1]
		}
		for _, part := range []float64{0.1, 0.3, 0.5, 0.7, 0.9} {
			if s := n.stoneOf(test, o, low+part*(high-low)); s != nil {
				out = append(out, map[string]any{"stone": s, "readings": map[string]any{}})
			} else if r := n.number(leaf, test, y, low, high, part); r != nil {
				add(r)
			}
		}
	}
	return out
}

// worded lists the outcomes that a sheet has by some frequency words.
func worded(leaf *kb.Material, o *vocab.Observable, words ...kb.Frequency) []string {
	sheet := leaf.Choices[o.Name]
	if o.Kind == vocab.Features {
		sheet = leaf.Features[o.Name]
	}
	var out []string
	for _, c := range o.Words() {
		if sheet != nil && slices.Contains(words, sheet.Words[c]) {
			out = append(out, c)
		}
	}
	return out
}

func outcomeRead(test *kb.Test, o *vocab.Observable, outcome string) map[string]any {
	if o.Kind == vocab.Choice {
		return onBench(test, o, map[string]any{"choice": outcome})
	}
	return onBench(test, o, map[string]any{"features": []string{outcome}})
}

func onBench(test *kb.Test, o *vocab.Observable, r map[string]any) map[string]any {
	r["test"] = test.ID
	return map[string]any{"stone": map[string]any{"mounted": false, "warm": false, "wet": false, "coated": false,
		"carat": 1.0, "cut": "round brilliant"},
		"readings": map[string]any{o.Name: r}}
}

// signs lists what tells one leaf from another by a test sometimes, as observable and outcome, with the logarithm of
// the ratio.
func (n *naive) signs(a, b *kb.Material, test *kb.Test) map[string]float64 {
	out := map[string]float64{}
	for _, y := range test.Yields {
		for _, c := range worded(a, y.Observable, "often", "sometimes", "rarely") {
			l := n.likelihoods(outcomeRead(test, y.Observable, c))
			switch {
			case l[a.Index] == 0:
			case l[b.Index] == 0:
				out[y.Observable.Name+" "+c] = math.Inf(1)
			default:
				out[y.Observable.Name+" "+c] = math.Log(l[a.Index]) - math.Log(l[b.Index])
			}
		}
	}
	return out
}

// stoneOf is a stone whose weight and size imply a value, by the formulas of the rulesets that the tests here use.
func (n *naive) stoneOf(test *kb.Test, o *vocab.Observable, x float64) map[string]any {
	if len(test.Derived) == 0 {
		return nil
	}
	const wide, deep = 6.5, 3.95
	carat := x * wide * wide * deep / 100
	if o.Name == "size_density" {
		carat = x / 3.52 * 0.0061 * wide * wide * deep
	}
	return map[string]any{"mounted": false, "warm": false, "wet": false, "coated": false, "cut": "round brilliant",
		"carat": carat, "length_mm": wide, "width_mm": wide, "depth_mm": deep}
}

func (n *naive) number(leaf *kb.Material, test *kb.Test, y *vocab.Yield, low, high, part float64) map[string]any {
	limits := y.Limits
	if in := n.rs.Vocabulary.HouseInstrument(test.ID); in != nil && in.Limits != nil {
		limits = *in.Limits
	}
	value := func(x float64) map[string]any {
		switch {
		case x > limits[1]:
			return map[string]any{"above": limits[1]}
		case x < limits[0]:
			return map[string]any{"below": limits[0]}
		}
		return map[string]any{"value": x}
	}
	d := leaf.Ranges["birefringence"]
	both := slices.ContainsFunc(test.Yields,
		func(y *vocab.Yield) bool { return y.Observable.Name == "birefringence" }) &&
		slices.ContainsFunc(test.Yields, func(y *vocab.Yield) bool { return y.Observable.Name == "ri" })
	switch {
	case both && y.Observable.Name == "birefringence" && leaf.Ranges["ri"] != nil:
		return nil
	case !both || y.Observable.Name != "ri" || d == nil:
		return value(low + part*(high-low))
	}
	apart := math.Min((d.Low+d.High)/2, high-low)
	first := low + part*(high-low-apart)
	if first < limits[0] || first+apart > limits[1] {
		return value(first)
	}
	return map[string]any{"value": []float64{first, first + apart}}
}
