package rulesets_test

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// A rule earns its place when, without it, some case under testdata/demo or testdata/coverage comes out otherwise:
// another verdict, exclusion, answer to the claim, caution, reading set aside, or other advice. Each is taken away in
// turn.
func TestEveryRuleEarnsItsPlace(t *testing.T) {
	rs, cases := desk(t), exampleCases(t)
	whole := map[*syntax.Node][]string{}
	j := judge(t)
	for _, n := range cases {
		whole[n] = outcome(t, rs, j, n)
	}
	var active []*kb.Rule
	for _, r := range rs.Rules {
		if r.Status == kb.Active {
			active = append(active, r)
		}
	}
	idle := make([]string, len(active))
	work := make(chan int)
	var workers sync.WaitGroup
	for range 2 {
		workers.Go(func() {
			for i := range work {
				idle[i] = earns(t, active[i], cases, whole)
			}
		})
	}
	for i := range active {
		work <- i
	}
	close(work)
	workers.Wait()
	for i, r := range active {
		if idle[i] != "" {
			t.Errorf("the rule %s (%s) does not earn its place: %s", r.ID, r.Place.Span, idle[i])
		}
	}
	t.Logf("%d active rules, each taken away in turn, against %d cases", len(active), len(cases))
}

// earns says why a rule does not earn its place, or nothing.
func earns(t *testing.T, r *kb.Rule, cases []*syntax.Node, whole map[*syntax.Node][]string) string {
	rs, err := under(t, "without", without(r))
	if err != nil {
		return fmt.Sprintf("the ruleset does not load without it: %v", err)
	}
	j := engine.Prepare(rs).NewJudge()
	// The case that is called after the rule comes first: mostly it settles the matter.
	ordered := slices.Clone(cases)
	slices.SortStableFunc(ordered, func(a, b *syntax.Node) int {
		return strings.Compare(calledAfter(a, r),
			calledAfter(b, r))
	})
	for _, n := range ordered {
		if !slices.Equal(outcome(t, rs, j, n), whole[n]) {
			return ""
		}
	}
	return "no case under testdata/demo or testdata/coverage comes out otherwise without it"
}

func calledAfter(n *syntax.Node, r *kb.Rule) string {
	if n.Get("case").Text == r.ID {
		return "a"
	}
	return "b"
}

// without is a layer that takes a rule away. The facts of one that establishes some are left to a rule that never comes
// into force, as other rules name them.
func without(r *kb.Rule) string {
	if len(r.Establishes) == 0 {
		return fmt.Sprintf("format: 1\nretires: [{rule: %s, because: to see what changes}]\n", r.ID)
	}
	var facts []string
	for _, e := range r.Establishes {
		switch e.Fact.Kind {
		case vocab.Truth:
			facts = append(facts, e.Fact.Name+": true")
		case vocab.Choice:
			facts = append(facts, e.Fact.Name+": "+e.Fact.Words[e.Word])
		default:
			facts = append(facts, e.Fact.Name+": {is: stone.carat}")
		}
	}
	return fmt.Sprintf("format: 1\nretires: [{rule: %s, because: to see what changes}]\nrules:\n  - {rule: silenced, "+
		"says: nothing, source: a test, since: 2999-01-01, establishes: {%s}}\n",
		r.ID, strings.Join(facts, ", "))
}

// exampleCases are the cases of the demo and those that exercise the rules.
func exampleCases(t *testing.T) []*syntax.Node {
	t.Helper()
	var out []*syntax.Node
	for _, folder := range []string{"demo", "coverage"} {
		paths, err := filepath.Glob(filepath.Join("../testdata", folder, "*.yaml"))
		if err != nil || len(paths) == 0 {
			t.Fatalf("no cases in testdata/%s (%v)", folder, err)
		}
		for _, path := range paths {
			text, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			out = append(out, parseCases(t, path, text)...)
		}
	}
	return out
}

// parseCases reads the documents of a file of cases.
func parseCases(t testing.TB, path string, text []byte) []*syntax.Node {
	t.Helper()
	var found diag.List
	out := syntax.ParseYAML(diag.NewSource(path, text), &found)
	if found.HasErrors() {
		t.Fatal(found)
	}
	return out
}

// outcome is all that a person is told of a case and that a rule can be there for: no shares, no places, no wording of
// reasons.
func outcome(t *testing.T, rs *kb.Ruleset, j *engine.Judge, n *syntax.Node) []string {
	t.Helper()
	var found diag.List
	c := eval.CaseReader(rs).Read(n, &found)
	if c == nil {
		t.Errorf("%v", found)
		return nil
	}
	return outcomeOf(told(j, c))
}

func outcomeOf(o *engine.Output) []string {
	out := []string{"verdict " + o.Verdict, fmt.Sprint("nodes ", o.Nodes), fmt.Sprint("repeat ", o.Repeat)}
	if o.Named != nil {
		out = append(out, "named "+*o.Named)
	}
	if o.NotListed != nil {
		out = append(out, "not listed: "+*o.NotListed)
	}
	for _, id := range o.RestsOnPriors {
		out = append(out, "rests on priors, beside "+id)
	}
	if o.Claim != nil {
		out = append(out, "claim "+o.Claim.Answer)
		if o.Claim.GroupAnswer != nil {
			out = append(out, "group claim "+*o.Claim.GroupAnswer)
		}
	}
	for _, x := range o.Excluded {
		out = append(out, "excluded "+x.Material)
	}
	for _, a := range o.SetAside {
		out = append(out, "set aside "+a.Observable)
	}
	for kind, notes := range map[string][]engine.Note{"caution ": o.Cautions, "sent on ": o.SentOn,
		"fault ": o.Faults} {
		for _, n := range notes {
			out = append(out, kind+n.Says)
		}
	}
	for kind, notes := range map[string][]engine.Note{"calls for ": o.CallsFor, "forbids ": o.Forbids} {
		for _, n := range notes {
			out = append(out, kind+*n.Test)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}
