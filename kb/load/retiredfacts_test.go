package load_test

import (
	"slices"
	"testing"

	"whystone/kb/eval"
	"whystone/kb/load/loadtest"
	"whystone/kb/vocab"
)

// A retired rule is kept as a record: it loads though what it reads is established by retired rules only, and what it
// established is known of it; nobody else may read that, and the rules in force are as without it.
func TestRetiredRulesReadPastFacts(t *testing.T) {
	rs := loadtest.WithRules(t, `
  - {rule: a-first, says: x, if: ri > 1.5, establishes: {dark: true, klass: old, sum: {is: ri + 1}}, status: retired}
  - {rule: b-second, says: x, if: 'dark and klass == "old" and sum > 2.6 and not seen(shiny)', establishes: {grim: true}, status: retired}
  - {rule: c-now, says: x, if: ri > 1.5, establishes: {shiny: true, klass: new}}
  - {rule: d-now, says: x, if: 'shiny and klass == "new"', cautions: x}
`)
	for _, name := range []string{"dark", "sum", "grim"} {
		if rs.Fact(name) != nil || slices.Contains(rs.Scope.Names(), name) {
			t.Errorf("%s is told as a fact", name)
		}
	}
	if f := rs.Fact("klass"); !slices.Equal(f.Words, []string{"new"}) {
		t.Errorf("klass has %q", f.Words)
	}
	second := rs.Rule("b-second")
	if second.If == nil || len(second.Slots()) != 4 || second.Turn >= 0 {
		t.Errorf("the record is not kept: %+v", second)
	}
	if first := rs.Rule("a-first"); len(first.Establishes) != 2 || first.Establishes[0].Fact.Kind != vocab.Truth ||
		first.Establishes[1].Expr == nil {
		t.Errorf("what it established is lost: %+v", first.Establishes)
	}
	run := eval.New(rs)
	run.Do(loadtest.Case(t, rs, "readings: {ri: 1.6}"), loadtest.Day)
	if r := rs.Rule("d-now"); run.Rules[r.Turn].String() != "holds" {
		t.Errorf("%s is %s", r.ID, run.Rules[r.Turn])
	}
}
