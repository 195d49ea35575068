package answers

import (
	"slices"
	"strings"
	"testing"

	"whystone/engine"
	"whystone/kb/casefile"
	"whystone/kb/eval"
	"whystone/kb/logic"
)

// TestShortForNeverRaises takes away each reading that the short chain lists for the verdict, and looks whether what
// the verdict is about then holds more: it never may.
func TestShortForNeverRaises(t *testing.T) {
	rs := loaded(t)
	e := engine.Prepare(rs)
	a, judge := New(e), e.NewJudge()
	listed, against := 0, 0
	each(allCases(t, rs, rounds(300), 10), func(name string, c *casefile.Case) {
		s := a.Short(c, noon, judge.Explain(c, noon))
		share := func(c *casefile.Case) float64 {
			var d engine.Decision
			judge.Decide(c, noon.On, &d)
			sum := 0.0
			for _, id := range s.About {
				sum += judge.Share(rs.Node(id))
			}
			return sum
		}
		whole := share(c)
		drop := func(x Reason) float64 {
			return share(c.Without(func(r *casefile.Reading) bool { return r.Name() == x.Reading.Name }))
		}
		for _, x := range s.For {
			listed++
			if rest := drop(x); rest > whole+1e-12 {
				t.Errorf("%s: without %s, listed for it, %v holds %g, more than %g", name, x.Reading.Name, s.About,
					rest, whole)
			}
		}
		for _, x := range s.Against {
			against++
			if rest := drop(x); rest < whole {
				t.Errorf("%s: without %s, listed against it, %v holds %g, less than %g", name, x.Reading.Name, s.About,
					rest, whole)
			}
		}
		if n := len(s.For) + len(s.Against) + len(s.Others); n != len(c.Readings) {
			t.Errorf("%s: %d readings are told of %d", name, n, len(c.Readings))
		}
	})
	if listed < rounds(100) || against == 0 {
		t.Errorf("%d readings for, %d against", listed, against)
	}
}

// TestShortIsShort holds that the tree has only steps of the whole chain, and that those of each reason rest on its
// reading; none twice.
func TestShortIsShort(t *testing.T) {
	rs := loaded(t)
	e := engine.Prepare(rs)
	a, judge := New(e), e.NewJudge()
	each(demoCases(t, rs), func(name string, c *casefile.Case) {
		ex := judge.Explain(c, noon)
		s := a.Short(c, noon, ex)
		steps, told := 0, map[int]bool{}
		var walk func(b Branch)
		walk = func(b Branch) {
			if b.Step != 0 {
				if steps++; told[b.Step] {
					t.Errorf("%s: step %d stands in the tree twice", name, b.Step)
				}
				told[b.Step] = true
				if st := ex.Chain[b.Step-1]; st.Says != b.Says && st.Kind != "verdict" {
					t.Errorf("%s: step %d says %q in the chain and %q in the tree", name, b.Step, st.Says, b.Says)
				}
			}
			for _, k := range b.Kids {
				walk(k)
			}
		}
		walk(s.Tree)
		if s.Tree.Kind != "verdict" || steps == 0 || steps >= len(ex.Chain) {
			t.Errorf("%s: the tree has %d of %d steps", name, steps, len(ex.Chain))
		}
	})
}

// TestWaiting holds that what is listed is undecided, and that of the rules which could touch a verdict those not
// listed would change nothing if they held.
func TestWaiting(t *testing.T) {
	rs := loaded(t)
	e := engine.Prepare(rs)
	a, judge := New(e), e.NewJudge()
	run := eval.New(rs)
	listed := 0
	each(allCases(t, rs, rounds(60), 8), func(name string, c *casefile.Case) {
		got := a.Waiting(c, noon)
		run.Do(c, noon.On)
		for _, w := range got.Rules {
			listed++
			if r := rs.Rule(w.Rule); run.Rules[r.Turn] != logic.Undecided {
				t.Errorf("%s: %s is listed and %s", name, w.Rule, run.Rules[r.Turn])
			}
			if len(w.Waits) == 0 {
				t.Errorf("%s: %s waits for nothing", name, w.Rule)
			}
		}
		for i, r := range rs.Order {
			if run.Rules[i] != logic.Undecided || slices.ContainsFunc(got.Rules,
				func(w WaitingRule) bool { return w.Rule == r.ID }) || !run.InForce[i] {
				continue
			}
			var before, after engine.Decision
			judge.Decide(c, noon.On, &before)
			weights := logWeights(judge, len(rs.Leaves))
			judge.Suppose(c, noon.On, r, &after)
			if key(&before) != key(&after) || before.Claim.Answer != after.Claim.Answer ||
				!slices.Equal(weights, logWeights(judge, len(rs.Leaves))) {
				t.Errorf("%s: %s is not listed, and if it held the verdict would be %s instead of %s", name, r.ID,
					key(&after), key(&before))
			}
		}
	})
	if listed == 0 {
		t.Error("no rule waits")
	}
}

func logWeights(j *engine.Judge, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = j.LogWeight(i)
	}
	return out
}

// TestWaitingEnds gives a waiting rule the reading that it waits for: it holds then, and the verdict is as foretold.
func TestWaitingEnds(t *testing.T) {
	rs := loaded(t)
	a := New(engine.Prepare(rs))
	c := demoCases(t, rs)["03-growth-stays-open"]
	i := slices.IndexFunc(a.Waiting(c, noon).Rules, func(w WaitingRule) bool { return w.Rule == "afterglow-goes-on" })
	if i < 0 {
		t.Fatal("the rule on afterglow does not wait")
	}
	w := a.Waiting(c, noon).Rules[i]
	if w.Changes != SendsOn || len(w.Waits) != 1 || w.Waits[0].Name != "afterglow" || !w.Waits[0].Able ||
		!slices.Contains(w.Waits[0].Tests, "ultraviolet-lamp") {
		t.Errorf("%+v", w)
	}
	o := rs.Vocabulary.Observable("afterglow")
	blue, _ := o.Outcome("blue")
	more := *c
	more.Readings = slices.Clone(c.Readings)
	more.Add(&casefile.Reading{Observable: o, Form: casefile.Choice, Outcome: blue, Tests: []string{o.Test},
		Blunder: 0.15, Repeats: 1})
	if d := a.decide(&more, noon.On); d.Class.String() != w.To.Verdict {
		t.Errorf("with the reading it is %s, foretold was %s", d.Class, w.To.Verdict)
	}
}

// TestSupposeIsAsIfItHeld compares what is supposed of a rule that sets readings aside with the same case on which it
// holds.
func TestSupposeIsAsIfItHeld(t *testing.T) {
	rs := loaded(t)
	judge := engine.Prepare(rs).NewJudge()
	const text = "case: coat\nstone: {mounted: false%s}\nreadings: {reflectance: 17.2, lustre: adamantine, " +
		"thermal_probe: diamond range}\n"
	open, coated := read(t, rs, "open", strings.Replace(text, "%s", "", 1)),
		read(t, rs, "coated", strings.Replace(text, "%s", ", coated: true", 1))
	var d engine.Decision
	judge.Decide(open, noon.On, &d)
	before := logWeights(judge, len(rs.Leaves))
	judge.Suppose(open, noon.On, rs.Rule("coating-hides-the-surface"), &d)
	supposed := logWeights(judge, len(rs.Leaves))
	judge.Decide(coated, noon.On, &d)
	if held := logWeights(judge, len(rs.Leaves)); !slices.Equal(supposed, held) || slices.Equal(before, held) {
		t.Error("to suppose that the rule holds is not as if it held")
	}
}
