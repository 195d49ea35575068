package diff_test

import (
	"reflect"
	"slices"
	"testing"

	"whystone/engine"
	"whystone/engine/diff"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/syntax"
)

// TestSameVerdict: verdicts are told apart by what they name, in whatever order, and by what they say of the list.
func TestSameVerdict(t *testing.T) {
	a, b := &kb.Material{ID: "a"}, &kb.Material{ID: "b"}
	narrowed := func(n ...*kb.Material) *engine.Decision {
		return &engine.Decision{Class: engine.Narrowed, Nodes: n}
	}
	if !diff.SameVerdict(narrowed(a, b), narrowed(b, a)) || diff.SameVerdict(narrowed(a), narrowed(a, b)) ||
		diff.SameVerdict(narrowed(a), narrowed(b)) ||
		diff.SameVerdict(&engine.Decision{Class: engine.Identified, Named: a},
			&engine.Decision{Class: engine.Identified, Named: b}) || diff.SameVerdict(&engine.Decision{}, narrowed()) {
		t.Error("verdicts are not told apart by what they name")
	}
	if other := (&kb.Material{ID: "a", Name: "the same of another ruleset"}); !diff.SameVerdict(narrowed(a, b),
		narrowed(b, other)) {
		t.Error("one id in two rulesets is taken for two nodes")
	}
}

// TestSameAnswer: besides the verdict, the answer to the claim counts; what keeps a name back or is not listed does
// too.
func TestSameAnswer(t *testing.T) {
	base := engine.Decision{Class: engine.Contradictory, Claim: engine.ClaimAnswer{Answer: engine.Open}}
	falls, notListed, keptBack := base, base, base
	falls.Claim.Answer, notListed.NotListed, keptBack.KeptBack = engine.Falls, engine.NotListedLikely, []*kb.Rule{{}}
	for name, x := range map[string]struct {
		d               engine.Decision
		verdict, answer bool
	}{"itself": {base, true, true}, "another answer": {falls, true, false}, "not listed": {notListed, false, false},
		"kept back": {keptBack, false, false}} {
		if v, a := diff.SameVerdict(&base, &x.d), diff.SameAnswer(&base, &x.d); v != x.verdict || a != x.answer {
			t.Errorf("%s: %t, %t", name, v, a)
		}
	}
	group := base
	if group.Claim.GroupAnswer = engine.Falls; !diff.SameAnswer(&base, &group) || diff.SameAnswers(&base, &group) {
		t.Error("the answer of the claim's group is not looked at where it counts, or where it doesn't")
	}
}

// TestSameOutput: whatever is told counts, and by which ruleset and as of when does not.
func TestSameOutput(t *testing.T) {
	a := engine.Output{Verdict: "narrowed", Ruleset: "sha256:1", AsOf: "2031-04-12"}
	b := a
	b.Ruleset, b.AsOf = "sha256:2", "2031-04-13"
	if !diff.SameOutput(a, b) {
		t.Error("the ruleset and the date are told apart")
	}
	if b.Missing = []engine.Note{{Says: "x"}}; diff.SameOutput(a, b) {
		t.Error("what is missing is not looked at")
	}
}

// TestChains: chains part at the first step of another kind or with other words, or where one of them ends.
func TestChains(t *testing.T) {
	step := func(kind engine.Kind, says string) engine.Step { return engine.Step{Kind: kind, Says: says} }
	a := []engine.Step{step("reading", "x"), step("verdict", "y")}
	for _, x := range []struct {
		is   []engine.Step
		want *diff.Parting
	}{
		{a, nil},
		{[]engine.Step{step("rule", "x"), a[1]}, &diff.Parting{Step: 1, Was: "x", Is: "x"}},
		{[]engine.Step{a[0], step("verdict", "z")}, &diff.Parting{Step: 2, Was: "y", Is: "z"}},
		{a[:1], &diff.Parting{Step: 2, Was: "y"}},
		{append(a[:2:2], step("claim", "z")), &diff.Parting{Step: 3, Is: "z"}},
		{nil, &diff.Parting{Step: 1, Was: "x"}},
	} {
		if got := diff.Chains(a, x.is); !reflect.DeepEqual(got, x.want) {
			t.Errorf("%v: %+v, want %+v", x.is, got, x.want)
		}
	}
}

// TestOutputs: each thing that can change is a change by itself, both ways; the same verdict under another digest is
// none.
func TestOutputs(t *testing.T) {
	named, falls := "diamond", "falls"
	base := func() *engine.Output {
		return &engine.Output{Verdict: "narrowed", Says: "Narrowed.", Nodes: []string{"diamond"}, Doubt: 0.1,
			Unlisted: 0.01, Claim: &engine.ClaimOutput{Says: "diamond", Answer: "open"},
			Candidates: []engine.Candidate{{Material: "natural-diamond", Share: 0.6},
				{Material: "cvd-diamond", Share: 0.3}}}
	}
	if w := diff.Outputs(base(), base()); w != nil {
		t.Errorf("the same is a change: %+v", w)
	}
	other := base()
	other.Ruleset, other.Drafts, other.Missing = "sha256:1", []engine.Draft{{}}, []engine.Note{{Says: "x"}}
	other.Candidates[0].Share += 1e-14
	if w := diff.Outputs(base(), other); w != nil {
		t.Errorf("the digest, the drafts, what is missing and the last places are a change: %+v", w)
	}
	note := []engine.Note{{Says: "x", Test: &named}}
	for name, change := range map[string]func(o *engine.Output){
		"verdict": func(o *engine.Output) { o.Verdict = "identified" },
		"says":    func(o *engine.Output) { o.Says = "Narrowed, not identified." },
		"named":   func(o *engine.Output) { o.Named = &named },
		"nodes":   func(o *engine.Output) { o.Nodes = nil },
		"claim":   func(o *engine.Output) { o.Claim = &engine.ClaimOutput{Says: "diamond", Answer: "falls"} },
		"group answer": func(o *engine.Output) {
			o.Claim = &engine.ClaimOutput{Says: "diamond", Answer: "open", GroupAnswer: &falls}
		},
		"doubt":     func(o *engine.Output) { o.Doubt = 0.2 },
		"unlisted":  func(o *engine.Output) { o.Unlisted = 0.02 },
		"share":     func(o *engine.Output) { o.Candidates[1].Share = 0.31 },
		"excluded":  func(o *engine.Output) { o.Excluded = []engine.Excluded{{Material: "cvd-diamond"}} },
		"set aside": func(o *engine.Output) { o.SetAside = []engine.SetAside{{Observable: "ri"}} },
		"cautions":  func(o *engine.Output) { o.Cautions = note },
		"sent on":   func(o *engine.Output) { o.SentOn = note },
		"calls for": func(o *engine.Output) { o.CallsFor = note },
		"forbids":   func(o *engine.Output) { o.Forbids = note },
		"waiting":   func(o *engine.Output) { o.Waiting = note },
		"faults":    func(o *engine.Output) { o.Faults = note },
	} {
		o := base()
		change(o)
		there, back := diff.Outputs(base(), o), diff.Outputs(o, base())
		if there == nil || back == nil {
			t.Errorf("%s: no change", name)
			continue
		}
		for i, g := range gains(there) {
			if h := gains(back)[i]; !slices.Equal(g.Added, h.Removed) || !slices.Equal(g.Removed, h.Added) {
				t.Errorf("%s: %+v, and back %+v", name, g, h)
			}
		}
	}
}

// gains are all lists of what there would be more and less of.
func gains(w *engine.Would) []engine.Gain {
	return []engine.Gain{w.Excluded, w.SetAside, w.Cautions, w.SentOn, w.CallsFor, w.Forbids, w.Waiting, w.Faults}
}

func TestCases(t *testing.T) {
	rs := built(t, files(t))
	read := func(text string) *casefile.Case {
		var found diag.List
		c := eval.CaseReader(rs).Read(syntax.ParseYAML(diag.NewSource("case", []byte(text)), &found)[0], &found)
		if c == nil {
			t.Fatal(found)
		}
		return c
	}
	a := read("{case: A, claim: diamond, readings: {ri: {above: 1.81}, thermal_probe: unsteady}}")
	b := read("{case: A, claim: paste, readings: {ri: 1.6, facet_doubling: none}}")
	want := []diff.Reading{{"claim", "diamond", "paste"}, {"facet_doubling", "", "none"},
		{"ri", "above 1.81", "1.600 ± 0.001"}, {"thermal_probe", "unsteady", ""}}
	if got := diff.Cases(a, b); !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	if got := diff.Cases(a, a); len(got) != 0 {
		t.Errorf("a case beside itself: %q", got)
	}
}
