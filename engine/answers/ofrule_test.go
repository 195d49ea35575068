package answers

import (
	"math/rand/v2"
	"testing"

	"whystone/engine"
	"whystone/kb/eval"
	"whystone/kb/logic"
)

// TestOfRuleIsTheRun: what is told of each rule is what came of it when the rules were run.
func TestOfRuleIsTheRun(t *testing.T) {
	rs := loaded(t)
	asker, run := New(engine.Prepare(rs)), eval.New(rs)
	rng := rand.New(rand.NewPCG(5, 8))
	seen := map[Outcome]int{}
	for range 60 {
		c := drawn(rs, rng, 1+rng.IntN(8))
		run.Do(c, noon.On)
		for i, r := range rs.Order {
			got := asker.OfRule(c, noon, r.ID)
			seen[got.Outcome]++
			want := map[logic.Value]bool{logic.Holds: got.Outcome == RuleFired,
				logic.Undecided: got.Outcome == RuleWaits, logic.Fails: got.Outcome == RuleFailed ||
					got.Outcome == RuleExcepted}
			if !want[run.Rules[i]] {
				t.Fatalf("%s: rule %s is %s, and is told to be %s", c.ID, r.ID, run.Rules[i], got.Outcome)
			}
			if got.Outcome == RuleWaits && len(got.Waits) == 0 {
				t.Errorf("%s: rule %s waits for nothing", c.ID, r.ID)
			}
			if got.Outcome == RuleFired && r.If != nil && len(got.Parts) == 0 {
				t.Errorf("%s: rule %s fires by no part", c.ID, r.ID)
			}
		}
	}
	for _, o := range []Outcome{RuleFired, RuleFailed, RuleWaits} {
		if seen[o] < 5 {
			t.Errorf("only %d rules came out as %s", seen[o], o)
		}
	}
}

// TestOfRuleOfNothing: of a rule that no layer has nothing is told.
func TestOfRuleOfNothing(t *testing.T) {
	rs := loaded(t)
	c := drawn(rs, rand.New(rand.NewPCG(1, 1)), 3)
	if got := New(engine.Prepare(rs)).OfRule(c, noon, "no-such-rule"); got != nil {
		t.Errorf("%+v", got)
	}
}
