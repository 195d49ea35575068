package next

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"whystone/engine"
	"whystone/engine/answers/wording"
	"whystone/engine/next/possible"
	"whystone/kb"
	"whystone/kb/casefile"
)

func toJSON(tb testing.TB, v any) string {
	tb.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		tb.Fatal(err)
	}
	return string(b)
}

// each runs f on every case, by name.
func each(cases map[string]*casefile.Case, f func(name string, c *casefile.Case)) {
	for _, name := range slices.Sorted(maps.Keys(cases)) {
		f(name, cases[name])
	}
}

func find(a *Advice, test string) *Suggestion {
	for i := range a.Tests {
		if a.Tests[i].Test == test {
			return &a.Tests[i]
		}
	}
	return nil
}

// TestSameBytes plays the tests one at a time, several at a time, with many workers, and anew: the bytes are the same.
func TestSameBytes(t *testing.T) {
	e := engine.Prepare(load(t))
	a := New(e)
	each(demoCases(t, e.Ruleset), func(name string, c *casefile.Case) {
		want := toJSON(t, a.Next(c, noon, Options{Workers: 1}))
		for _, workers := range []int{2, 7, 1} {
			if got := toJSON(t, a.Next(c, noon, Options{Workers: workers})); got != want {
				t.Errorf("%s: with %d workers the advice is another", name, workers)
			}
		}
		if got := toJSON(t, New(e).Next(c, noon, Options{})); got != want {
			t.Errorf("%s: asked anew, the advice is another", name)
		}
		if !strings.HasPrefix(want, `{"format":1,`) || strings.Contains(strings.ReplaceAll(want, `"then":null`, ""), "null") {
			t.Errorf("%s: the shape is wrong: %.60s", name, want)
		}
	})
}

// TestRenaming gives everything in a model other names, in another order of ids: the figures stay, and so does the
// order of what is suggested.
func TestRenaming(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 6))
	for range rounds(20) {
		m := drawModel(rng, 1)
		first := New(engine.Prepare(m.load(t))).Next(&casefile.Case{ID: "model"}, noon, Options{})
		names := m.names
		m.names = func(kind string, i int) string { return fmt.Sprintf("%c-other-%s", 'z'-i, kind) }
		second := New(engine.Prepare(m.load(t))).Next(&casefile.Case{ID: "model"}, noon, Options{})
		if first.Action != second.Action || math.Abs(first.Entropy-second.Entropy) > 1e-12 || len(first.Tests) != len(second.Tests) {
			t.Fatalf("%s %g, renamed %s %g", first.Action, first.Entropy, second.Action, second.Entropy)
		}
		for i := range m.tests {
			x, y := find(first, names("test", i)), find(second, m.names("test", i))
			if math.Abs(x.EntropyDrop-y.EntropyDrop) > 1e-9 || math.Abs(x.LossReduction-y.LossReduction) > 1e-9 || math.Abs(x.Further-y.Further) > 1e-9 {
				t.Errorf("%s: %g %g %g, renamed %g %g %g", m.tests[i].kind, x.EntropyDrop, x.LossReduction, x.Further, y.EntropyDrop, y.LossReduction, y.Further)
			}
		}
	}
}

// TestRepeatIsWorthLittle does the tests of small models once more, after each outcome: on the average a repeat of a choice
// is worth next to nothing beside what the test was worth when it was new. (After a surprising outcome it is worth
// something: it may have been a blunder.) A repeat of a value makes it sharper by the square root of two, which counts
// where it lies at the end of a range.
func TestRepeatIsWorthLittle(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 1))
	fresh, again := map[string]float64{}, map[string]float64{}
	for range rounds(30) {
		m := drawModel(rng, 1)
		rs := m.load(t)
		a := New(engine.Prepare(rs))
		c := &casefile.Case{ID: "model"}
		for i, mt := range m.tests {
			id := m.names("test", i)
			if mt.kind == "feature" {
				continue // one that was looked for is not looked for again
			}
			fresh[mt.kind] += find(a.Next(c, noon, Options{}), id).EntropyDrop
			b := a.lay(c, noon, Options{})
			for _, o := range a.players[0].outcomes(c, look{source: sourceOf(rs, id), feature: -1}, b.w, coarse) {
				s := find(a.Next(possible.With(c, o.reading), noon, Options{}), id)
				if !s.Again {
					t.Errorf("%s: a repeat is not told as one", mt.kind)
				}
				again[mt.kind] += o.mass * s.EntropyDrop
			}
		}
	}
	t.Logf("new: %v; again: %v", fresh, again)
	if part := again["choice"] / fresh["choice"]; part > 0.02 || fresh["choice"] == 0 {
		t.Errorf("repeats of choices are worth %g of what the tests were new", part)
	}
	if part := again["quantity"] / fresh["quantity"]; part > 0.25 || fresh["quantity"] == 0 {
		t.Errorf("repeats of quantities are worth %g of what the tests were new", part)
	}
}

// TestRepeatOnTheDesk repeats every test of every demo case that is not contradictory: none is worth a tenth of a nat.
func TestRepeatOnTheDesk(t *testing.T) {
	e := engine.Prepare(load(t))
	a := New(e)
	each(demoCases(t, e.Ruleset), func(name string, c *casefile.Case) {
		got := a.Next(c, noon, Options{})
		if got.Action == Repeat {
			return
		}
		for _, s := range got.Tests {
			if s.Again && s.EntropyDrop > 0.1 {
				t.Errorf("%s: %s again is worth %g nats", name, s.Test, s.EntropyDrop)
			}
		}
	})
}

// TestFurtherOfAFamily holds that a second test of a family that was read tells less than a first one of another family
// that speaks alike.
func TestFurtherOfAFamily(t *testing.T) {
	e := engine.Prepare(load(t))
	a := New(e)
	c := read(t, e.Ruleset, "family", walkStone)
	fresh := find(a.Next(c, noon, Options{}), "breath-fog").EntropyDrop
	probe := sourceOf(e.Ruleset, "thermal-probe")
	i, _ := probe.Observable.Outcome("diamond range")
	if after := find(a.Next(possible.With(c, probe.Choice(i)), noon, Options{}), "breath-fog").EntropyDrop; after > fresh/4 {
		t.Errorf("breath on the stone is worth %g nats, after the thermal probe still %g", fresh, after)
	}
}

// TestMeshIsFineEnough compares the figures of the mesh in use with those of a much finer one on real cases.
func TestMeshIsFineEnough(t *testing.T) {
	e := engine.Prepare(load(t))
	a := New(e)
	finer := mesh{points: 4, parts: 2, grain: 1.0 / 1000, least: 1e-5}
	worst := 0.0
	each(demoCases(t, e.Ruleset), func(name string, c *casefile.Case) {
		if testing.Short() && !strings.HasPrefix(name, "02") {
			return
		}
		x, y := a.lay(c, noon, Options{}), a.lay(c, noon, Options{mesh: finer})
		for _, test := range x.able {
			if len(test.Yields) > 3 {
				continue // many features, no values
			}
			s, f := x.suggest(a.players[0], test), y.suggest(a.players[0], test)
			if s.test == nil {
				continue
			}
			for i := range s.looks {
				k := slices.IndexFunc(f.looks, func(g figures) bool {
					return g.look.source.Observable == s.looks[i].look.source.Observable && g.look.feature == s.looks[i].look.feature
				})
				gap := math.Abs(max(0, s.looks[i].drop) - max(0, f.looks[k].drop)) // below nought both tell nothing
				worst = math.Max(worst, gap)
				if gap > 0.02+0.02*f.looks[k].drop {
					t.Errorf("%s, %s: %g nats, finer %g", name, test.ID, s.looks[i].drop, f.looks[k].drop)
				}
			}
		}
	})
	t.Logf("the largest difference is %.4f nats", worst)
}

func TestActions(t *testing.T) {
	e := engine.Prepare(load(t))
	a := New(e)
	cases := demoCases(t, e.Ruleset)
	for name, want := range map[string]string{
		"01-probe-says-diamond":    Stop,
		"02-household-tests":       Test,
		"03-growth-stays-open":     Laboratory, // nothing here tells how a diamond grew
		"04-mounted-one-weak-test": Test,
		"05-index-against-weight":  Repeat,
		"10-blue-and-it-conducts":  Laboratory, // a rule sends it on
		"07-colourless-sapphire":   Stop,
		"08-rock-crystal-or-grown": Test,
		"15-flashes-in-a-crack":    Laboratory,
		"06-heavy-for-its-size":    Stop,
		"11-garnet-on-glass":       Stop,
		"13-stake-asks-for-more":   Laboratory,
		"12-parcel-too-small":      Laboratory,
		"09-weight-gives-it-away":  Test,
	} {
		got := a.Next(cases[name], noon, Options{})
		if got.Action != want {
			t.Errorf("%s: %s, want %s: %s", name, got.Action, want, got.Says)
		}
	}
	rule := a.Next(cases["10-blue-and-it-conducts"], noon, Options{})
	if len(rule.Because) == 0 {
		t.Error("a rule sends the stone on, and the advice does not say why")
	}
	repeat := a.Next(cases["05-index-against-weight"], noon, Options{})
	if len(repeat.Repeat) == 0 || repeat.Repeat[0].Readings[0] != "specific_gravity" {
		t.Errorf("%+v", repeat.Repeat)
	}
}

// TestNotDone holds that tests that harm, that a rule forbids, that the stone does not allow and that the house can't do
// are listed apart, each once, and never suggested.
func TestNotDone(t *testing.T) {
	rs := load(t)
	a := New(engine.Prepare(rs))
	c := read(t, rs, "mounted", "case: mounted\nstone: {mounted: true, carat: 1}\nreadings: {transparency: translucent}\n")
	got := a.Next(c, noon, Options{Lacks: []string{"polariscope"}})
	listed := map[string]string{}
	for kind, list := range map[string][]NotDone{"harmful": got.Harmful, "infeasible": got.Infeasible, "forbidden": got.Forbidden} {
		for _, n := range list {
			if old := listed[n.Test]; old != "" {
				t.Errorf("%s is %s and %s", n.Test, old, kind)
			}
			if listed[n.Test] = kind; n.Says == "" || find(got, n.Test) != nil {
				t.Errorf("%+v", n)
			}
		}
	}
	for test, want := range map[string]string{"flame-and-quench": "harmful", "hot-point": "harmful", "refractometer": "forbidden",
		"polariscope": "infeasible", "magnet": "infeasible", "thermal-probe": ""} {
		if listed[test] != want {
			t.Errorf("%s is %q, want %q", test, listed[test], want)
		}
	}
	for _, x := range rs.Tests {
		if listed[x.ID] == "" && find(got, x.ID) == nil {
			t.Errorf("%s is neither suggested nor refused", x.ID)
		}
		if !x.Harmless() != (listed[x.ID] == "harmful") {
			t.Errorf("%s, which harms by %s, is %q", x.ID, x.Harm, listed[x.ID])
		}
	}
}

// TestAsks holds that a test of which the case does not say whether it can be done asks.
func TestAsks(t *testing.T) {
	rs := load(t)
	got := find(New(engine.Prepare(rs)).Next(read(t, rs, "asks", "case: asks\nreadings: {}\n"), noon, Options{}), "hydrostatic-weighing")
	if len(got.Asks) < 2 || !strings.Contains(got.Says, "does not say") {
		t.Errorf("%+v", got.Asks)
	}
}

// TestSpoilt holds that a test that stayed inconclusive is worth less than a new one, and more than nothing.
func TestSpoilt(t *testing.T) {
	rs := load(t)
	a := New(engine.Prepare(rs))
	c := read(t, rs, "spoilt", walkStone)
	fresh := find(a.Next(c, noon, Options{}), "thermal-probe").EntropyDrop
	spoilt := find(a.Next(possible.With(c, sourceOf(rs, "thermal-probe").Unclear("warm")), noon, Options{}), "thermal-probe")
	if d := spoilt.EntropyDrop; d < fresh/3 || d > fresh*0.6 || spoilt.Again {
		t.Errorf("new %g nats, after an inconclusive try %g", fresh, d)
	}
}

// TestUnclear holds that the more often a test stays inconclusive, the less it is worth: in proportion, as no rule acts.
func TestUnclear(t *testing.T) {
	m := drawModel(rand.New(rand.NewPCG(1, 1)), 1)
	rs := m.load(t)
	a := New(engine.Prepare(rs))
	id := m.names("test", 0)
	of := func(rate float64) *Suggestion {
		return find(a.Next(&casefile.Case{ID: "model"}, noon, Options{Unclear: map[string]float64{id: rate}}), id)
	}
	never, half := of(0), of(0.5)
	if math.Abs(never.EntropyDrop-2*half.EntropyDrop) > 1e-12 || never.EntropyDrop == 0 {
		t.Errorf("%g and %g", never.EntropyDrop, half.EntropyDrop)
	}
	sum := 0.0
	for _, o := range half.Outcomes {
		sum += o.Likelihood
	}
	if math.Abs(sum-1) > 1e-12 {
		t.Errorf("the outcomes come to %g", sum)
	}
}

func TestCosts(t *testing.T) {
	stake := 9000.0
	k := costsOf(&kb.Policy{Costs: map[string]float64{CostSendOn: 80}}, &casefile.Case{Stake: &stake})
	if k.sendOn != 80 || k.wrongStands != 9000 || k.perMinute != DefaultCosts[CostPerMinute] || k.wrongName != DefaultCosts[CostWrongName] {
		t.Errorf("%+v", k)
	}
	if k := costsOf(&kb.Policy{}, &casefile.Case{}); k.wrongStands <= k.sendOn || k.wrongStands <= k.wrongFalls {
		t.Errorf("to let an imitation pass for what is claimed must be dearest: %+v", k)
	}
}

// TestLoss holds the loss of a few cases: a stone that is not settled costs what sending it on costs; one that is named
// costs what a mistake would; a rule that sends it on costs that too.
func TestLoss(t *testing.T) {
	e := engine.Prepare(load(t))
	p := newPlayer(e)
	each(demoCases(t, e.Ruleset), func(name string, c *casefile.Case) {
		p.cost, p.on = costsOf(e.Ruleset.Policy, c), noon.On
		s := p.play(c)
		if s.loss < 0 || s.loss > p.cost.sendOn {
			t.Errorf("%s: a loss of %g", name, s.loss)
		}
		open := s.decision.Claim.Claim != nil && s.decision.Claim.Answer == engine.Open || s.sentOn
		if open && s.loss != p.cost.sendOn {
			t.Errorf("%s: it is not settled, and the loss is %g", name, s.loss)
		}
		if d := &s.decision; !open && d.Claim.Answer == engine.Falls {
			claimed := 0.0
			for _, i := range d.Claim.Claim.Leaves {
				claimed += p.judge.Weight(i)
			}
			if want := min(claimed*p.cost.wrongFalls, p.cost.sendOn); math.Abs(s.loss-want) > 1e-12 {
				t.Errorf("%s: a loss of %g, want %g", name, s.loss, want)
			}
		}
	})
}

// TestNoBannedWords reads every sentence of the advice on the demo cases.
func TestNoBannedWords(t *testing.T) {
	e := engine.Prepare(load(t))
	a := New(e)
	var authors []string
	for _, r := range e.Ruleset.Rules {
		authors = append(authors, strings.TrimRight(r.Says, ". "))
	}
	for _, x := range e.Ruleset.Tests {
		for _, n := range x.Needs {
			authors = append(authors, lower(strings.TrimSuffix(n.Says, ".")))
		}
	}
	tried := 0
	each(demoCases(t, e.Ruleset), func(name string, c *casefile.Case) {
		got := a.Next(c, noon, Options{})
		says := []string{got.Says, got.Now.Says}
		for _, s := range got.Tests {
			says = append(says, s.Says)
			for _, o := range s.Outcomes {
				says = append(says, o.To.Says)
			}
		}
		for _, list := range [][]NotDone{got.Harmful, got.Infeasible, got.Forbidden} {
			for _, n := range list {
				says = append(says, n.Says)
			}
		}
		for _, r := range got.Repeat {
			says = append(says, r.Says)
		}
		for _, s := range says {
			tried++
			for _, w := range authors {
				s = strings.ReplaceAll(s, w, "...")
			}
			if bad := wording.Banned(s); len(bad) > 0 || strings.Contains(s, "%!") {
				t.Errorf("%s: %q says %q", name, s, bad)
			}
		}
	})
	if tried < 500 {
		t.Errorf("only %d sentences", tried)
	}
}

// TestGolden pins the advice on a few demo cases.
func TestGolden(t *testing.T) {
	e := engine.Prepare(load(t))
	a := New(e)
	cases := demoCases(t, e.Ruleset)
	var b strings.Builder
	for _, name := range []string{"02-household-tests", "03-growth-stays-open", "05-index-against-weight"} {
		got := a.Next(cases[name], noon, Options{})
		fmt.Fprintf(&b, "== %s\n%s: %s\n", name, got.Action, got.Says)
		for _, s := range got.Tests[:3] {
			fmt.Fprintf(&b, "  %s\n", s.Says)
			for _, o := range s.Outcomes[:min(6, len(s.Outcomes))] {
				fmt.Fprintf(&b, "    %s: %s\n", o.Outcome, o.To.Says)
			}
		}
		for _, r := range got.Repeat {
			fmt.Fprintf(&b, "  %s\n", r.Says)
		}
		for _, n := range got.Harmful[:2] {
			fmt.Fprintf(&b, "  %s\n", n.Says)
		}
	}
	golden(t, "advice.golden", b.String())
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if os.Getenv("WHYSTONE_UPDATE") == "1" {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s differs; run with WHYSTONE_UPDATE=1 and read what changed:\n%s", file, got)
	}
}

// BenchmarkNext is the advice on the demo cases that are hardest to play. The aim is 50 ms on two cores.
func BenchmarkNext(b *testing.B) {
	e := engine.Prepare(load(b))
	a := New(e)
	cases := demoCases(b, e.Ruleset)
	cases["one-reading"] = read(b, e.Ruleset, "one", "case: one\nreadings: {thermal_probe: below diamond range}\n")
	for _, name := range []string{"02-household-tests", "03-growth-stays-open", "07-colourless-sapphire", "15-flashes-in-a-crack", "16-oval-in-a-ring", "one-reading"} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				a.Next(cases[name], noon, Options{})
			}
		})
	}
}
