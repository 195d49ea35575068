package load_test

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"whystone/kb"
	"whystone/kb/eval"
	"whystone/kb/load/loadtest"
	"whystone/kb/logic"
)

// TestWithholds: which names a rule keeps back, and what lifts it. The "until" is looked at when all rules have run, so
// that it may read what the rule itself sets aside, and orders nothing.
func TestWithholds(t *testing.T) {
	rs := loadtest.WithRules(t, `
  - rule: might-be-a-doublet
    says: Nobody looked for the join.
    if: ri > 1.5
    withholds: {names: [diamond, rock-crystal], until: 'loose_join or thermal_probe == "diamond range"', beside: [lead-glass, glass]}
  - {rule: a-join, says: x, if: ri > 1.6, unless: stone.mounted, establishes: {loose_join: true}}
  - {rule: no-probe, says: x, if: ri > 1.6, sets_aside: thermal_probe}
  - {rule: always, says: x, withholds: {names: quartz}}
  - {rule: no-more, says: x, status: retired, withholds: {names: quartz, until: gone_fact}, establishes: {gone_fact: true}}
`)
	r := rs.Rule("might-be-a-doublet")
	w := r.Withholds
	if d := cmp.Diff("grown-diamond natural-diamond rock-crystal", strings.Join(loadtest.Names(rs, w.Leaves),
		" ")); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff("lead-glass ordinary-glass", strings.Join(loadtest.Names(rs, w.Beside), " ")); d != "" {
		t.Error(d)
	}
	if strings.Join(w.Names, " ") != "diamond rock-crystal" || strings.Join(w.BesideIDs, " ") != "lead-glass glass" ||
		w.Until == nil || r.Evidence() || r.OnlyAdvises() || len(r.Basis) != 1 || r.Family != "" {
		t.Errorf("%+v, %+v", w, r)
	}
	if got := r.At(kb.UntilKey).Text(); !strings.HasPrefix(got, "'loose_join or") {
		t.Errorf("its until stands at %s", got)
	}
	if got := r.Naming(rs.Fact("loose_join").Slot).Text(); got != "loose_join" {
		t.Errorf("the fact is named at %s", got)
	}
	if w := rs.Rule("always").Withholds; w.Until != nil || w.Beside != nil || len(w.Leaves) != 2 ||
		rs.Rule("always").WithheldUntil() != nil {
		t.Errorf("%+v", w)
	}
	if rs.Rule("wet-stone").Withholds != nil || !loadtest.WithRules(t,
		"  - {rule: ask, says: x, cautions: y, calls_for: weighing}\n").Rule("ask").OnlyAdvises() {
		t.Error("a rule that keeps nothing back keeps something back")
	}
	run := eval.New(rs)
	for readings, want := range map[string]logic.Value{
		"{ri: 1.7}":  logic.Undecided,
		"{ri: 1.55}": logic.Undecided,
		"{ri: 1.55, thermal_probe: diamond range}": logic.Holds,
		"{ri: 1.7, thermal_probe: diamond range}":  logic.Undecided, // the probe is set aside
	} {
		run.Do(loadtest.Case(t, rs, "readings: "+readings), time.Time{})
		if got, _, err := run.Truth(w.Until); got != want || err != nil || !run.Fired(r) {
			t.Errorf("%s: %v, %v", readings, got, err)
		}
	}
	run.Do(loadtest.Case(t, rs, "stone: {mounted: false}\nreadings: {ri: 1.7}"), time.Time{})
	if got, _, _ := run.Truth(w.Until); got != logic.Holds {
		t.Errorf("a fact of a rule of a later name: %v", got)
	}
}

// TestUnlistedWeights: evidence may speak of what no sheet is of, beside materials or alone.
func TestUnlistedWeights(t *testing.T) {
	rs := loadtest.WithRules(t, `
  - rule: aggregate
    says: An aggregate.
    if: ri > 1.5
    supports: [{materials: [unlisted], ratio: 100}, {materials: [quartz, unlisted], strength: weak}, {materials: [quartz], ratio: 2}]
    weakens: {materials: unlisted, ratio: 4}
`)
	type weight struct {
		Leaves, Says string
		Unlisted     bool
		Ratio        float64
	}
	var got []weight
	for _, w := range rs.Rule("aggregate").Weights {
		got = append(got, weight{strings.Join(loadtest.Names(rs, w.Leaves), " "), w.Says, w.Unlisted, w.Ratio})
	}
	if d := cmp.Diff([]weight{{"", "unlisted", true, 100}, {"rock-crystal synthetic-quartz", "quartz, unlisted", true,
		3},
		{"rock-crystal synthetic-quartz", "quartz", false, 2}, {"", "unlisted", true, 0.25}}, got); d != "" {
		t.Error(d)
	}
}
