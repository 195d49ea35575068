package next

import (
	"cmp"
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"whystone/engine"
	"whystone/engine/next/possible"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/vocab"
)

// The walk: a stone of each material of the ruleset in turn, loose and cut as a round brilliant, comes in with one
// thermal reading. Somebody does the first test suggested, each time, until the stone is identified or nothing is
// suggested; somebody else picks tests blindly from those that can be done. Outcomes are truthful: as the material's sheet
// leads to expect (possible.Expected). That checks the advice, not the sheets.

const walkStone = "case: walk\nstone: {mounted: false, warm: false, wet: false, coated: false, carat: 1.0, cut: round brilliant}\nreadings: {}\n"

// walker takes one material along.
type walker struct {
	rs    *kb.Ruleset
	judge *engine.Judge
	m     *kb.Material
	c     *casefile.Case
	done  map[string]bool
	tests int
	took  float64
	names []string
}

func newWalker(tb testing.TB, e *engine.Engine, m *kb.Material) *walker {
	w := &walker{rs: e.Ruleset, judge: e.NewJudge(), m: m, c: read(tb, e.Ruleset, "walk", walkStone), done: map[string]bool{}}
	w.do("thermal-probe")
	w.tests, w.took, w.names = 0, 0, nil
	return w
}

// do does a test: all that it gives is read.
func (w *walker) do(id string) {
	t := w.rs.Test(id)
	if got := possible.Expected(w.rs, t, w.m); len(got) > 0 {
		w.c = possible.With(w.c, got...)
	}
	for _, s := range possible.Sources(w.rs, t) {
		_, _, derived, _ := sofar(w.c, s)
		if !w.c.Has(s.Observable) && !derived && s.Observable.Name != vocab.Birefringence {
			w.c = possible.With(w.c, s.Unclear("the sheet says nothing of it"))
		}
	}
	w.done[id] = true
	w.tests, w.took, w.names = w.tests+1, w.took+t.Minutes, append(w.names, id)
}

func (w *walker) decide() engine.Decision {
	var d engine.Decision
	w.judge.Decide(w.c, noon.On, &d)
	return d
}

// walked is how a walk ended.
type walked struct {
	identified bool
	right      bool
	tests      float64
	minutes    float64
	verdict    string
	names      []string
	action     string
}

func (w *walker) end(action string) walked {
	d := w.decide()
	out := walked{identified: d.Class == engine.Identified, tests: float64(w.tests), minutes: w.took, verdict: d.Class.String(), names: w.names, action: action}
	if d.Named != nil {
		out.right, out.verdict = w.m.Under(d.Named), d.Named.ID
	}
	for _, n := range d.Nodes {
		out.right = out.right || w.m.Under(n)
	}
	return out
}

// follow does the first suggestion each time.
func (w *walker) follow(a *Adviser) walked {
	for w.tests < len(w.rs.Tests) {
		advice := a.Next(w.c, noon, Options{})
		if d := w.decide(); d.Class == engine.Identified || advice.Action != Test {
			return w.end(advice.Action)
		}
		i := slices.IndexFunc(advice.Tests, func(s Suggestion) bool { return !w.done[s.Test] })
		if i < 0 {
			return w.end("exhausted")
		}
		w.do(advice.Tests[i].Test)
	}
	return w.end("exhausted")
}

// blind picks at random from the tests that can be done and were not done.
func (w *walker) blind(a *Adviser, rng *rand.Rand) walked {
	for {
		if d := w.decide(); d.Class == engine.Identified {
			return w.end("")
		}
		able := slices.DeleteFunc(a.lay(w.c, noon, Options{Workers: 1}).able, func(t *kb.Test) bool { return w.done[t.ID] })
		if len(able) == 0 {
			return w.end("")
		}
		w.do(able[rng.IntN(len(able))].ID)
	}
}

func mean(list []walked, of func(walked) float64) float64 {
	sum := 0.0
	for _, x := range list {
		sum += of(x)
	}
	return sum / float64(len(list))
}

func seedOf(id string) uint64 {
	h := fnv.New64a()
	h.Write([]byte(id))
	return h.Sum64()
}

func TestWalk(t *testing.T) {
	runs := 5
	all := os.Getenv("WHYSTONE_REQUIRE_ALL") == "1"
	if all {
		runs = 200
	}
	e := engine.Prepare(load(t))
	a := New(e)
	var b strings.Builder
	fmt.Fprintf(&b, "| material | verdict | tests | minutes | picked blindly: identified | tests | minutes |\n|---|---|---|---|---|---|---|\n")
	var ours, theirs []walked
	for i, m := range e.Ruleset.Leaves {
		if !all && i%4 != 0 {
			continue
		}
		one := newWalker(t, e, m).follow(a)
		var blind []walked
		for s := range runs {
			blind = append(blind, newWalker(t, e, m).blind(a, rand.New(rand.NewPCG(seedOf(m.ID), uint64(s)))))
		}
		found := slices.DeleteFunc(slices.Clone(blind), func(x walked) bool { return !x.identified })
		tests, minutes := "-", "-"
		if len(found) > 0 {
			tests, minutes = fmt.Sprintf("%.1f", mean(found, func(x walked) float64 { return x.tests })), fmt.Sprintf("%.0f", mean(found, func(x walked) float64 { return x.minutes }))
		}
		fmt.Fprintf(&b, "| %s | %s %s %v | %.0f | %.0f | %d of %d | %s | %s |%s\n", m.Name, one.action, one.verdict, one.right, one.tests, one.minutes, len(found), runs, tests, minutes, strings.Join(one.names, " "))
		if one.identified && len(found) == runs {
			ours, theirs = append(ours, one), append(theirs, walked{tests: mean(found, func(x walked) float64 { return x.tests }), minutes: mean(found, func(x walked) float64 { return x.minutes })})
		}
	}
	fmt.Fprintf(&b, "\nboth %d: tests %.2f minutes %.2f against %.2f %.2f", len(ours), mean(ours, func(x walked) float64 { return x.tests }), mean(ours, func(x walked) float64 { return x.minutes }),
		mean(theirs, func(x walked) float64 { return x.tests }), mean(theirs, func(x walked) float64 { return x.minutes }))
	t.Log("\n" + b.String())
	_ = cmp.Compare[int]
	_ = filepath.Join
}
