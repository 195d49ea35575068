package next

import (
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"whystone/engine"
	"whystone/engine/next/feasible"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/vocab"
)

// The walk: a stone of each material of the ruleset in turn, loose and cut as a round brilliant, comes in with one
// thermal reading. Somebody does the first test suggested, each time, until the stone is identified or nothing is
// suggested; somebody else picks tests blindly from those that can be done. Outcomes are truthful: as the material's
// sheet leads to expect (possible.Expected). That checks the advice, not the sheets.

const walkStone = "case: walk\nstone: {mounted: false, warm: false, wet: false, coated: false, carat: 1.0, cut: " +
	"round brilliant}\nreadings: {}\n"

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
	w := &walker{rs: e.Ruleset, judge: e.NewJudge(), m: m, c: read(tb, e.Ruleset, "walk", walkStone),
		done: map[string]bool{}}
	w.do("thermal-probe")
	w.tests, w.took, w.names = 0, 0, nil
	return w
}

// do does a test: all that it gives is read.
func (w *walker) do(id string) {
	t := w.rs.Test(id)
	if got := feasible.Expected(w.rs, w.c, t, w.m); len(got) > 0 {
		w.c = feasible.With(w.c, got...)
	}
	for _, s := range feasible.Sources(w.rs, w.c, t) {
		_, _, derived, _ := sofar(w.c, s)
		if !w.c.Has(s.Observable) && !derived && s.Observable.Name != vocab.Birefringence {
			w.c = feasible.With(w.c, s.Unclear("the sheet says nothing of it"))
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
	right      bool // what was named or narrowed to holds the material
	tests      float64
	minutes    float64
	says       string
	names      []string
}

func (w *walker) end() walked {
	d := w.decide()
	out := walked{identified: d.Class == engine.Identified, tests: float64(w.tests), minutes: w.took,
		says: d.Reason().Within(), names: w.names}
	for _, n := range append(slices.Clone(d.Nodes), d.Named) {
		out.right = out.right || n != nil && w.m.Under(n)
	}
	return out
}

// follow does the first suggestion each time, until the stone is identified or something else is advised than a test. A
// test of which the sheet says nothing comes out inconclusive, and would again: then the next suggestion is followed.
func (w *walker) follow(a *Adviser) walked {
	for {
		advice := a.Next(w.c, noon, Options{brief: true})
		i := slices.IndexFunc(advice.Tests, func(s Suggestion) bool { return !w.done[s.Test] && !s.TellsNothing })
		if d := w.decide(); d.Class == engine.Identified || advice.Action != Test || i < 0 {
			return w.end()
		}
		w.do(advice.Tests[i].Test)
	}
}

// blind picks at random from the tests that can be done and were not done, until the stone is identified.
func (w *walker) blind(a *Adviser, rng *rand.Rand) walked {
	for {
		if d := w.decide(); d.Class == engine.Identified {
			return w.end()
		}
		able := slices.DeleteFunc(a.lay(w.c, noon, Options{Workers: 1}).able,
			func(t *kb.Test) bool { return w.done[t.ID] })
		if len(able) == 0 {
			return w.end()
		}
		w.do(able[rng.IntN(len(able))].ID)
	}
}

// means are the mean tests and minutes of walks.
func means(list []walked) (tests, minutes float64) {
	for _, x := range list {
		tests, minutes = tests+x.tests/float64(len(list)), minutes+x.minutes/float64(len(list))
	}
	return tests, minutes
}

func seedOf(id string) uint64 {
	h := fnv.New64a()
	h.Write([]byte(id))
	return h.Sum64()
}

const walkHead = `# From one thermal reading to a verdict

Each material of the shipped ruleset, with truthful outcomes, from one thermal reading on: following the first suggestion each
time, against picking at random among what can be done. Written by ` + "`WHYSTONE_WALK_TABLE=walk.md WHYSTONE_REQUIRE_ALL=1 go test\n./engine/next -run TestWalk`" + `; the figures move with the ruleset.

`

// TestWalk walks with every fourth material and a few blind runs each; with WHYSTONE_REQUIRE_ALL=1 with all materials
// and 200 blind runs. WHYSTONE_WALK_TABLE names a file to write the table to.
func TestWalk(t *testing.T) {
	runs, step := 5, 4
	if os.Getenv("WHYSTONE_REQUIRE_ALL") == "1" {
		runs, step = 200, 1
	}
	e := engine.Prepare(loaded(t))
	a := New(e)
	var table strings.Builder
	fmt.Fprintf(&table, "| material | verdict by following the advice | tests | minutes | picked blindly: identified "+
		"in | tests | minutes |\n|---|---|--:|--:|--:|--:|--:|\n")
	var ours, theirs []walked
	for i := 0; i < len(e.Ruleset.Leaves); i += step {
		m := e.Ruleset.Leaves[i]
		one := newWalker(t, e, m).follow(a)
		var blind []walked
		for s := range runs {
			blind = append(blind, newWalker(t, e, m).blind(a, rand.New(rand.NewPCG(seedOf(m.ID), uint64(s)))))
		}
		if !one.right {
			t.Errorf("%s: after %v it is %s", m.ID, one.names, one.says)
		}
		found := slices.DeleteFunc(slices.Clone(blind), func(x walked) bool { return !x.identified })
		tests, minutes := means(blind)
		fmt.Fprintf(&table, "| %s | %s | %.0f | %.0f | %d of %d | %.1f | %.0f |\n", m.Name, one.says, one.tests,
			one.minutes, len(found), runs, tests, minutes)
		if one.identified && len(found) == runs {
			ours, theirs = append(ours, one), append(theirs, walked{tests: tests, minutes: minutes})
		}
		t.Logf("%s: %s", m.ID, strings.Join(one.names, ", "))
	}
	ourTests, ourMinutes := means(ours)
	theirTests, theirMinutes := means(theirs)
	fmt.Fprintf(&table, "\nMean over the %d materials that both identify: %.1f tests and %.0f minutes by following "+
		"the first suggestion, %.1f tests and %.0f minutes by picking blindly (%d seeded runs each).\n",
		len(ours), ourTests, ourMinutes, theirTests, theirMinutes, runs)
	t.Log("\n" + table.String())
	if file := os.Getenv("WHYSTONE_WALK_TABLE"); file != "" {
		if err := os.WriteFile(file, []byte(walkHead+table.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if len(ours) < len(e.Ruleset.Leaves)/step*3/4 {
		t.Errorf("only %d materials are identified", len(ours))
	}
	if ourTests > theirTests/2 || ourMinutes > theirMinutes/2 {
		t.Errorf("%.1f tests and %.0f minutes are not half of %.1f and %.0f", ourTests, ourMinutes, theirTests,
			theirMinutes)
	}
}
