package eval_test

import (
	"slices"
	"testing"
	"whystone/kb/eval"
	"whystone/kb/load/loadtest"
)

// TestMute: a muted rule is as if it were not in force, to itself and to what reads its facts and what it sets aside;
// the next one muted takes its place, and other runs hear nothing of it.
func TestMute(t *testing.T) {
	rs := loadtest.WithRules(t, factRules+`
  - {rule: probe, says: x, if: thermal_probe == "diamond range", cautions: x}
  - {rule: dated, says: x, since: 2020-01-01, if: seen(ri), cautions: x}
`)
	c := loadtest.Case(t, rs, "stone: {wet: true}\nreadings: {ri: 1.7, specific_gravity: 4, thermal_probe: diamond "+
		"range}")
	run := eval.New(rs)
	for _, tt := range []struct{ muted, want string }{
		{"", "wet-stone holds, probe undecided, one holds, other holds, dense holds, heavy undecided, large undecided"},
		{"one", "wet-stone holds, probe undecided, one fails, other holds, dense holds, heavy fails, large holds"},
		{"other", "wet-stone holds, probe undecided, one holds, other fails, dense holds, heavy holds, large holds"},
		{"wet-stone", "wet-stone fails, probe holds, one holds, other holds, dense holds, heavy undecided, large " +
			"undecided"},
		{"dense", "wet-stone holds, probe undecided, one holds, other holds, dense fails, heavy undecided, large " +
			"undecided"},
		{"dated", "wet-stone holds, probe undecided, one holds, other holds, dense holds, heavy undecided, large " +
			"undecided"},
		{"", "wet-stone holds, probe undecided, one holds, other holds, dense holds, heavy undecided, large undecided"},
	} {
		run.Mute(rs.Rule(tt.muted))
		run.Do(c, loadtest.Day)
		if got := loadtest.Truths(t, rs, run, "wet-stone", "probe", "one", "other", "dense", "heavy",
			"large"); got != tt.want {
			t.Errorf("without %q: %s, want %s", tt.muted, got, tt.want)
		}
		for i, r := range rs.Order {
			if run.InForce[i] != (r.ID != tt.muted) {
				t.Errorf("without %q: %s is in force: %v", tt.muted, r.ID, run.InForce[i])
			}
		}
		fresh := loadtest.RunOn(t, rs, "stone: {wet: true}\nreadings: {ri: 1.7}")
		if slices.Contains(fresh.InForce, false) {
			t.Errorf("without %q: another run has a rule that is not in force", tt.muted)
		}
	}
}
