package replay

import (
	"bufio"
	"encoding/json"
	"math"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/expr-lang/expr"
	"github.com/expr-lang/expr/vm"

	"whystone/engine"
	"whystone/engine/archive"
	"whystone/kb/casefile"
	"whystone/kb/vocab"
)

// naive is a replay as one writes it first: each line decoded by encoding/json into a map, the conditions run by expr
// one by one (two-valued: what fails on a missing reading counts as undecided), and of every number, word and feature
// the exact likelihood under every material, added up and made shares. It stands for what is left out here too: three
// values, families, verdict, claim.
type naive struct {
	e     *engine.Engine
	judge *engine.Judge
	rules []*vm.Program
	c     []float64
	log   []float64
}

var chained = regexp.MustCompile(`([\d.]+) (<=?) (\w+) (<=?) ([\d.]+)`)

func newNaive(tb testing.TB, e *engine.Engine) *naive {
	n := &naive{e: e, judge: e.NewJudge(), c: make([]float64, len(e.Ruleset.Leaves)),
		log: make([]float64, len(e.Ruleset.Leaves))}
	all := 0
	for _, r := range e.Ruleset.Order {
		if r.If == nil {
			continue
		}
		all++
		p, err := expr.Compile(chained.ReplaceAllString(r.If.Text, "$1 $2 $3 and $3 $4 $5"),
			expr.AllowUndefinedVariables(), expr.Function("seen", func(args ...any) (any,
				error) {
				return args[0] != nil, nil
			}))
		if err == nil { // a condition that names a definition, or asks what this language has of its own, is left out
			n.rules = append(n.rules, p)
		}
	}
	if len(n.rules) < all*2/3 {
		tb.Fatalf("of %d conditions %d are understood by expr", all, len(n.rules))
	}
	return n
}

func (n *naive) line(text []byte) error {
	var m map[string]any
	if err := json.Unmarshal(text, &m); err != nil {
		return err
	}
	env := map[string]any{"stone": m["stone"], "claim": m["claim"], "stake": m["stake"]}
	readings, _ := m["readings"].(map[string]any)
	for k, v := range readings {
		if of, ok := v.(map[string]any); ok && of["features"] != nil {
			v = of["features"]
		}
		env[k] = v
	}
	for _, p := range n.rules {
		_, _ = vm.Run(p, env) // what fails is undecided
	}
	clear(n.log)
	for k, v := range readings {
		if o := n.e.Ruleset.Vocabulary.Observable(k); o != nil {
			n.weigh(o, v)
		}
	}
	top, sum := math.Inf(-1), 0.0
	for i := range n.log {
		n.log[i] += n.judge.LogPrior(i)
		top = math.Max(top, n.log[i])
	}
	for i := range n.log {
		n.log[i] = math.Exp(n.log[i] - top)
		sum += n.log[i]
	}
	for i := range n.log {
		n.log[i] /= sum
	}
	return nil
}

// weigh adds what a reading says.
func (n *naive) weigh(o *vocab.Observable, v any) {
	y := n.e.Ruleset.Vocabulary.Yield(o.Test, o)
	r := &casefile.Reading{Observable: o, Repeats: 1, Tests: []string{o.Test}, Blunder: y.Blunder, U: y.Uncertainty,
		Noise: y.Uncertainty}
	switch v := v.(type) {
	case float64:
		r.Form, r.Value = casefile.Value, v
	case string:
		r.Form = casefile.Choice
		r.Outcome, _ = o.Outcome(v)
	default:
		return
	}
	n.judge.Outcome(r, nil, n.c)
	for i, c := range n.c {
		n.log[i] += c
	}
}

// BenchmarkNaive is the naive form on one processor, beside encoding/json and the replay itself on one.
func BenchmarkNaive(b *testing.B) {
	e := loaded(b, nil)
	path := archiveOf(b, e)
	n := newNaive(b, e)
	var naively, decoded, replayed used
	for b.Loop() {
		decoded.add(timed(func() { decodeAll(b, path, 1) }))
		naively.add(timed(func() { eachText(b, path, n.line) }))
		replayed.add(timed(func() {
			run(b, Config{Engine: e, Workers: 1,
				Input: archive.Input{Paths: []string{path}}})
		}))
	}
	b.ReportMetric(0, "ns/op") // of all together: nobody's figure
	b.ReportMetric(float64(naively.cpu)/float64(decoded.cpu), "naive/json-cpu")
	b.ReportMetric(float64(replayed.cpu)/float64(decoded.cpu), "replay/json-cpu")
	b.ReportMetric(float64(replayed.cpu)/float64(naively.cpu), "replay/naive-cpu")
}

func eachText(tb testing.TB, path string, do func([]byte) error) {
	f, err := os.Open(path)
	if err != nil {
		tb.Fatal(err)
	}
	defer f.Close()
	lines := bufio.NewScanner(f)
	lines.Buffer(nil, archive.MaxLine)
	for lines.Scan() {
		if err := do(lines.Bytes()); err != nil {
			tb.Fatal(err)
		}
	}
}

// TestNaiveSharesAreShares: the naive form does its work: its shares come to 1, and a plain case finds its material.
func TestNaiveSharesAreShares(t *testing.T) {
	e := loaded(t, nil)
	n := newNaive(t, e)
	if err := n.line([]byte(`{"case":"A","stone":{"carat":1,"mounted":false},"readings":{"ri":1.718,"specific_gravity":3.6,"optic_character":"isotropic"}}`)); err != nil {
		t.Fatal(err)
	}
	sum, best := 0.0, 0
	for i, s := range n.log {
		if sum += s; s > n.log[best] {
			best = i
		}
	}
	if m := e.Ruleset.Leaves[best]; math.Abs(sum-1) > 1e-9 || !strings.Contains(m.ID, "spinel") {
		t.Errorf("shares come to %g, and the likeliest is %s", sum, m.ID)
	}
}
