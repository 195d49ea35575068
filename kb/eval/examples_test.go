package eval_test

import (
	"strings"
	"testing"

	"whystone/kb/load/loadtest"
	"whystone/kb/logic"
)

// TestExamplesThatFail: an example that does not come out is told where it stands, with what it came to, why, and the
// readings that the rule saw. A case from before the rule was in force is an example of its condition all the same.
func TestExamplesThatFail(t *testing.T) {
	rs := loadtest.WithRules(t, `
  - rule: shown
    says: x
    if: ri > 1.7 and facet_doubling == "none"
    cautions: x
    since: 2031-04-12
    examples:
      - {readings: {ri: 1.75, facet_doubling: none}, is: holds}
      - {readings: {ri: 1.75}, is: holds}
      - {readings: {ri: 1.6}, is: undecided}
      - {readings: {ri: 1.75, facet_doubling: none}, taken: 2031-04-11, is: holds}
  - rule: spared
    says: x
    if: ri > 1.7
    unless: facet_doubling == "none"
    cautions: x
    examples:
      - {readings: {ri: 1.75, facet_doubling: none}, is: holds}
      - {readings: {ri: 1.75}, is: holds}
      - {readings: {ri: 1.75, facet_doubling: strong}, is: holds}
      - {readings: {ri: 1.75, facet_doubling: strong}, is: fails}
  - {rule: draft, says: x, if: ri > 1, status: draft, cautions: x, examples: [{readings: {ri: 1.5}, is: fails}]}
  - {rule: retired, says: x, if: ri > 1, status: retired, cautions: x, examples: [{readings: {ri: 1.5}, is: fails}]}
`)
	out := loadtest.CheckExamples(rs, loadtest.Day)
	if len(out) != 6 {
		t.Fatal(loadtest.Render(t, out))
	}
	for i, want := range []struct{ where, says, came, parts, value string }{
		{"house/house.yaml:24:79", `an example of "draft" should be "fails", and is "holds"`,
			"Its condition is met, and no exception.", "24:32 this part holds", "ri 1.500 ± 0.001"},
		{"house/house.yaml:11:9", `should be "holds", and is "undecided"`, "Its condition is open.",
			"6:22 this part is open, as facet_doubling was not read", "ri 1.750 ± 0.001"},
		{"house/house.yaml:12:9", `should be "undecided", and is "fails"`, "Its condition is not met.",
			"6:9 this part does not hold", "ri 1.600 ± 0.001"},
		{"house/house.yaml:20:9", `should be "holds", and is "fails"`, "Its condition is met, and so is its exception.",
			"17:13 this part holds", "facet_doubling none; ri 1.750 ± 0.001"},
		{"house/house.yaml:21:9", `should be "holds", and is "undecided"`,
			"Its condition is met, and its exception is open.",
			"17:13 this part is open, as facet_doubling was not read", "ri 1.750 ± 0.001"},
		{"house/house.yaml:23:9", `should be "fails", and is "holds"`, "Its condition is met, and no exception.",
			"16:9 this part holds; 17:13 this part does not hold", "facet_doubling strong; ri 1.750 ± 0.001"},
	} {
		d := out[i]
		if d.Code != "example-fails" || !strings.Contains(d.Summary, want.says) {
			t.Errorf("%d: %s", i, d.Error())
		}
		if d.Detail != want.came+" Correct the example, or the rule." {
			t.Errorf("%d: %q", i, d.Detail)
		}
		var parts []string
		for _, r := range d.Related {
			parts = append(parts, strings.TrimPrefix(r.Span.String(), "house/house.yaml:")+" "+r.Says)
		}
		if got := strings.Join(parts, "; "); got != want.parts {
			t.Errorf("%d: %q, want %q", i, got, want.parts)
		}
		if d.Span.String() != want.where {
			t.Errorf("%d stands at %s", i, d.Span)
		}
		var values []string
		for _, v := range d.Values {
			values = append(values, v.Name+" "+v.Value)
		}
		if got := strings.Join(values, "; "); got != want.value {
			t.Errorf("%d: %q, want %q", i, got, want.value)
		}
	}
	if r := rs.Rule("doubled-edges"); len(r.Examples) != 3 || r.Examples[2].Is != logic.Undecided ||
		r.Examples[0].Case == nil {
		t.Error("the examples of a rule are not kept")
	}
}
