package next

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"whystone/engine"
	"whystone/engine/enginetest"
	"whystone/engine/next/feasible"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/kbtest"
	"whystone/kb/load"
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
	e := engine.Prepare(loaded(t))
	a := New(e)
	each(demoCases(t, e.Ruleset), func(name string, c *casefile.Case) {
		want := toJSON(t, a.Next(c, noon, Options{Workers: 1}))
		workers := []int{2, 7, 1}
		if testing.Short() {
			workers = workers[:1]
		}
		for _, workers := range workers {
			if got := toJSON(t, a.Next(c, noon, Options{Workers: workers})); got != want {
				t.Errorf("%s: with %d workers the advice is another", name, workers)
			}
		}
		if got := toJSON(t, New(e).Next(c, noon, Options{})); got != want {
			t.Errorf("%s: asked anew, the advice is another", name)
		}
		if !strings.HasPrefix(want, `{"format":1,`) || strings.Contains(strings.ReplaceAll(want, `"then":null`, ""),
			"null") {
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
		if first.Action != second.Action || math.Abs(first.Entropy-second.Entropy) > 1e-12 ||
			len(first.Tests) != len(second.Tests) {
			t.Fatalf("%s %g, renamed %s %g", first.Action, first.Entropy, second.Action, second.Entropy)
		}
		for i := range m.tests {
			x, y := find(first, names("test", i)), find(second, m.names("test", i))
			if math.Abs(x.EntropyDrop-y.EntropyDrop) > 1e-9 || math.Abs(x.LossReduction-y.LossReduction) > 1e-9 ||
				math.Abs(x.Further-y.Further) > 1e-9 {
				t.Errorf("%s: %g %g %g, renamed %g %g %g", m.tests[i].kind, x.EntropyDrop, x.LossReduction, x.Further,
					y.EntropyDrop, y.LossReduction, y.Further)
			}
		}
	}
}

func TestActions(t *testing.T) {
	e := engine.Prepare(loaded(t))
	a := New(e)
	cases := demoCases(t, e.Ruleset)
	for name, want := range map[string]Action{
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
	if len(repeat.Repeat) == 0 || !slices.Contains([]string{"specific_gravity", "ri"}, repeat.Repeat[0].Readings[0]) {
		t.Errorf("%+v", repeat.Repeat)
	}
}

// TestStopIsMeant draws cases, and holds what Stop says: the name rests on the readings, none is kept back, the stone
// is on the list as far as anybody knows, and nothing claimed is open but a word that nobody here knows.
func TestStopIsMeant(t *testing.T) {
	rs := loaded(t)
	e := engine.Prepare(rs)
	a, judge := New(e), e.NewJudge()
	rng := rand.New(rand.NewPCG(21, 4))
	actions := map[Action]int{}
	var cases []*casefile.Case
	each(demoCases(t, rs), func(_ string, c *casefile.Case) { cases = append(cases, c) })
	for _, file := range []string{"coverage/unlisted.yaml", "coverage/assembled.yaml", "expected/unlisted.yaml"} {
		text, err := os.ReadFile(filepath.Join(kbtest.Root(t), "testdata", file))
		if err != nil {
			t.Fatal(err)
		}
		text = regexp.MustCompile(`(?m)^expects: .*\n`).ReplaceAll(text, nil) // what is expected is another test's
		cases = append(cases, enginetest.Cases(t, rs, file, string(text))...)
	}
	for range rounds(60) {
		cases = append(cases, read(t, rs, "desk", drawDesk(t, rs, rng).text()))
	}
	for _, c := range slices.Clone(cases) { // nothing claimed, nothing left open by it
		bare := *c
		bare.Claim, bare.ClaimSays = "", ""
		cases = append(cases, &bare)
	}
	var all []string
	for _, x := range rs.Tests {
		all = append(all, x.ID)
	}
	for i, c := range cases {
		o := Options{brief: true}
		if i%4 > 0 {
			o.Lacks = all // a house without instruments: no test goes on, whatever is open
		}
		got := a.Next(c, noon, o)
		var d engine.Decision
		judge.Decide(c, noon.On, &d)
		actions[got.Action]++
		if got.Action == Repeat && d.Class != engine.Contradictory && d.NotListed != engine.NotListedLikely {
			t.Errorf("%s: %s", c.ID, got.Says)
		}
		if d.NotListed == engine.NotListedLikely && !strings.Contains(got.Says,
			"no listed stone fits all these readings") {
			t.Errorf("%s: it is likely not on the list, and the advice is %s", c.ID, got.Says)
		}
		if got.Action != Stop || d.Faulty {
			continue
		}
		answered := d.Claim.Claim == nil || d.Claim.Answer != engine.Open
		if len(d.RestsOnPriors) > 0 || judge.KeptFromName(&d) != nil || d.NotListed != engine.Listed || !answered {
			t.Errorf("%s, rests on priors %d, kept back %d, not listed %q, claim %s", got.Says, len(d.RestsOnPriors),
				len(judge.KeptFromName(&d)), d.NotListed, d.Claim.Answer)
		}
	}
	t.Log(actions)
	if !testing.Short() && (actions[Stop] == 0 || actions[Laboratory] == 0 || actions[Repeat] == 0) {
		t.Errorf("actions: %v", actions)
	}
}

// TestStopWantsAFirmName: neither a name that rests on what is common at the counter nor a group's name, given as a
// rule keeps a closer one back, settles a stone, even where no test is left.
func TestStopWantsAFirmName(t *testing.T) {
	dir := t.TempDir()
	rule := "format: 1\nrules:\n  - {rule: no-kind-of-glass, says: This house names no kind of glass., withholds: " +
		"{names: [ordinary-glass]}, source: invented, examples: [{readings: {}, is: holds}, {readings: {ri: 1.5}, " +
		"is: holds}]}\n"
	if err := os.WriteFile(filepath.Join(dir, "rules.yaml"), []byte(rule), 0o600); err != nil {
		t.Fatal(err)
	}
	house := loaded(t, load.Layer{Name: "house", FS: os.DirFS(dir)})
	for _, x := range []struct {
		rs   *kb.Ruleset
		text string
		firm func(d *engine.Decision, j *engine.Judge) bool
	}{
		{loaded(t), "case: common\nstone: {mounted: false, carat: 0.46, cut: round brilliant}\nreadings: " +
			"{thermal_probe: diamond range, fire: moderate, reflectance: 16.0}\n",
			func(d *engine.Decision, _ *engine.Judge) bool { return len(d.RestsOnPriors) == 0 }},
		{house, "case: glass\nstone: {mounted: false, carat: 2}\nreadings: {colour: colourless, transparency: " +
			"transparent, ri: 1.515, specific_gravity: 2.50, optic_character: isotropic, thermal_probe: below " +
			"diamond range, inclusions: [gas bubbles]}\n",
			func(d *engine.Decision, j *engine.Judge) bool { return j.KeptFromName(d) == nil }},
	} {
		e := engine.Prepare(x.rs)
		judge := e.NewJudge()
		c := read(t, x.rs, "firm", x.text)
		var d engine.Decision
		judge.Decide(c, noon.On, &d)
		if d.Class != engine.Identified || x.firm(&d, judge) {
			t.Errorf("%s: %s, which is no case of this", c.ID, d.Reason().Within())
		}
		var all []string
		for _, x := range x.rs.Tests {
			all = append(all, x.ID)
		}
		if got := New(e).Next(c, noon, Options{Lacks: all}); got.Action != Laboratory {
			t.Errorf("%s: %s", c.ID, got.Says)
		}
	}
}

// TestWhatLiftsComesFirst: a diamond that only a thermal probe and a look at its fire or its glow speak for may be
// synthetic moissanite (common practice: the probe takes the one for the other). Its name is kept back, and what is
// suggested first may lift that.
func TestWhatLiftsComesFirst(t *testing.T) {
	rs := loaded(t)
	e := engine.Prepare(rs)
	for i, beside := range []string{"fire: moderate", "fire: moderate", "uv_long: blue", "uv_long: blue"} {
		mounted := i%2 == 0
		c := read(t, rs, "probe", fmt.Sprintf("case: probe\nclaim: diamond\nstone: {mounted: %v, carat: 0.9, cut: "+
			"round brilliant}\nreadings: {thermal_probe: diamond range, %s}\n", mounted, beside))
		judge := e.NewJudge()
		var d engine.Decision
		judge.Decide(c, noon.On, &d)
		if d.Class == engine.Identified {
			t.Fatal("it is named by a probe and a glance")
		}
		got := New(e).Next(c, noon, Options{})
		var lifting []string
		for _, x := range rs.Tests {
			for _, y := range x.Yields {
				if slices.Contains([]string{"facet_doubling", "specific_gravity", "size_density", "reflectance",
					"electrical_conduction", "optic_character", "deep_uv"}, y.Observable.Name) {
					lifting = append(lifting, x.ID)
				}
			}
		}
		if got.Action != Test || !slices.Contains(lifting, got.Tests[0].Test) {
			t.Errorf("%s, mounted %v: %s (%s)", beside, mounted, got.Says, got.Tests[0].Test)
		}
	}
}

// TestNotDone holds that tests that harm, that a rule forbids, that the stone does not allow and that the house can't
// do are listed apart, each once, and never suggested.
func TestNotDone(t *testing.T) {
	rs := loaded(t)
	a := New(engine.Prepare(rs))
	c := read(t, rs, "mounted", "case: mounted\nstone: {mounted: true, carat: 1}\nreadings: {transparency: "+
		"translucent}\n")
	got := a.Next(c, noon, Options{Lacks: []string{"polariscope"}})
	listed := map[string]string{}
	for kind, list := range map[string][]NotDone{"harmful": got.Harmful, "infeasible": got.Infeasible,
		"forbidden": got.Forbidden} {
		for _, n := range list {
			if old := listed[n.Test]; old != "" {
				t.Errorf("%s is %s and %s", n.Test, old, kind)
			}
			if listed[n.Test] = kind; n.Says == "" || find(got, n.Test) != nil {
				t.Errorf("%+v", n)
			}
		}
	}
	for test, want := range map[string]string{"flame-and-quench": "harmful", "hot-point": "harmful",
		"heavy-liquids": "forbidden", "polariscope": "infeasible", "magnet": "infeasible", "thermal-probe": ""} {
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
	rs := loaded(t)
	got := find(New(engine.Prepare(rs)).Next(read(t, rs, "asks", "case: asks\nreadings: {}\n"), noon, Options{}),
		"hydrostatic-weighing")
	if len(got.Asks) < 1 || !strings.Contains(got.Says, "does not say") {
		t.Errorf("%+v", got.Asks)
	}
}

// TestSpoilt holds that a test that stayed inconclusive is worth less than a new one, and more than nothing.
func TestSpoilt(t *testing.T) {
	rs := loaded(t)
	a := New(engine.Prepare(rs))
	c := read(t, rs, "spoilt", walkStone)
	fresh := find(a.Next(c, noon, Options{}), "thermal-probe").EntropyDrop
	spoilt := find(a.Next(feasible.With(c, sourceOf(rs, "thermal-probe").Unclear("warm")), noon, Options{}),
		"thermal-probe")
	if d := spoilt.EntropyDrop; d < fresh/3 || d > fresh*0.6 || spoilt.Again {
		t.Errorf("new %g nats, after an inconclusive try %g", fresh, d)
	}
}

// TestUnclear holds that the more often a test stays inconclusive, the less it is worth: in proportion, as no rule
// acts.
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
	if k.sendOn != 80 || k.wrongStands != 9000 || k.perMinute != DefaultCosts[CostPerMinute] ||
		k.wrongName != DefaultCosts[CostWrongName] {
		t.Errorf("%+v", k)
	}
	if k := costsOf(&kb.Policy{}, &casefile.Case{}); k.wrongStands <= k.sendOn || k.wrongStands <= k.wrongFalls {
		t.Errorf("to let an imitation pass for what is claimed must be dearest: %+v", k)
	}
}

// TestLoss holds the loss of a few cases: a stone that is not settled costs what sending it on costs; one that is named
// costs what a mistake would; a rule that sends it on costs that too.
func TestLoss(t *testing.T) {
	e := engine.Prepare(loaded(t))
	p := newPlayer(e)
	each(demoCases(t, e.Ruleset), func(name string, c *casefile.Case) {
		p.cost, p.on = costsOf(e.Ruleset.Policy, c), noon.On
		s := p.play(c)
		if s.loss < 0 || s.loss > p.cost.sendOn {
			t.Errorf("%s: a loss of %g", name, s.loss)
		}
		if sent := p.cost.loss(p.judge, &s.decision, true); sent != p.cost.sendOn {
			t.Errorf("%s: sent on, its loss is %g", name, sent)
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
