package eval_test

import (
	"testing"

	"pgregory.net/rapid"

	"whystone/kb/load/loadtest"
	"whystone/kb/logic"
)

// TestOpenBounds: a bare comparison leaves the open end of a bound open; where arithmetic needs it, it is that of what
// the observable can be at all, so that something comes of it and nothing is faulty. The spans: ri 1.3 to 3,
// specific_gravity 1 to 8.
func TestOpenBounds(t *testing.T) {
	for _, tt := range []struct{ condition, readings, want string }{
		{"ri > 1.81", "{ri: {above: 1.81}}", "holds"},
		{"ri < 3.5", "{ri: {above: 1.81}}", "undecided"},
		{"ri > 1", "{ri: {below: 1.7}}", "undecided"},
		{"near(ri, 2.4, 2)", "{ri: {above: 1.81}}", "undecided"},
		{"ri * 2 < 7", "{ri: {above: 1.81}}", "holds"},
		{"ri * 2 > 3.62", "{ri: {above: 1.81}}", "holds"},
		{"ri * 2 > 5.9", "{ri: {above: 1.81}}", "undecided"},
		{"ri * 2 > 2.5", "{ri: {below: 1.7}}", "holds"},
		{"1 / ri > 0.3", "{ri: {above: 1.81}}", "holds"},
		{"(ri - 1) / (ri + 1) < 0.6", "{ri: {above: 1.81}}", "undecided"}, // both ends by themselves
		{"specific_gravity / ri > 4", "{specific_gravity: {below: 3}, ri: 1.5}", "fails"},
		{"specific_gravity / ri > 2", "{specific_gravity: {above: 4}, ri: {below: 1.7}}", "holds"},
		{"1 / (specific_gravity - 0.5) < 2.5", "{specific_gravity: {below: 3}}", "holds"},
		{"sqrt(specific_gravity - 1) >= 0", "{specific_gravity: {below: 3}}", "holds"},
		{"ri > specific_gravity", "{ri: {above: 1.81}, specific_gravity: {below: 1.7}}", "holds"},
	} {
		rs := loadtest.WithRules(t, "  - {rule: tried, says: x, if: '"+tt.condition+"', cautions: x}\n")
		run := loadtest.RunOn(t, rs, "readings: "+tt.readings)
		if got := loadtest.Truths(t, rs, run, "tried"); got != "tried "+tt.want {
			t.Errorf("%s on %s: %s, want %s", tt.condition, tt.readings, got, tt.want)
		}
		if len(run.Faults) > 0 {
			t.Errorf("%s on %s: %v", tt.condition, tt.readings, run.Faults)
		}
	}
}

// TestOpenBoundsAreBounds: arithmetic on a bound that is open comes to what it comes to on the same bound with the end
// of the span written out.
func TestOpenBoundsAreBounds(t *testing.T) {
	rs := loadtest.WithRules(t, `
  - {rule: ratio, says: x, if: specific_gravity / ri > 2, cautions: x}
  - {rule: sum, says: x, if: ri + specific_gravity < 5, cautions: x}
  - {rule: twice, says: x, if: abs(ri * 2 - specific_gravity) < 1, cautions: x}
`)
	rapid.Check(t, func(rt *rapid.T) {
		number := rapid.SampledFrom([]string{"1.4", "1.5", "1.7", "1.81"})
		heavy := rapid.SampledFrom([]string{"1.5", "2.65", "3.5", "4", "7"})
		x, y := number.Draw(rt, "ri"), heavy.Draw(rt, "density")
		open := "readings: {ri: {above: " + x + "}, specific_gravity: {below: " + y + "}}"
		shut := "readings: {ri: {above: " + x + ", below: 3.0000001}, specific_gravity: {above: 0.9999999, below: " +
			y + "}}"
		a, b := loadtest.RunOn(t, rs, open), loadtest.RunOn(t, rs, shut)
		for _, r := range []string{"ratio", "sum", "twice"} {
			if v, w := a.Rules[rs.Rule(r).Turn], b.Rules[rs.Rule(r).Turn]; v != w && v != logic.Undecided &&
				w != logic.Undecided {
				rt.Fatalf("%s: %s, and %s", open, v, w)
			}
		}
	})
}
