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
  - {rule: draft, says: x, if: ri > 1, status: draft, cautions: x, examples: [{readings: {ri: 1.5}, is: fails}]}
  - {rule: retired, says: x, if: ri > 1, status: retired, cautions: x, examples: [{readings: {ri: 1.5}, is: fails}]}
`)
	out := loadtest.CheckExamples(rs, loadtest.Day)
	if len(out) != 3 {
		t.Fatal(loadtest.Render(t, out))
	}
	for i, want := range []struct{ where, says, value string }{
		{"house/house.yaml:14:79", `an example of "draft" should be "fails", and is "holds"`, "1.500 ± 0.001"},
		{"house/house.yaml:11:9", `should be "holds", and is "undecided"`, "facet_doubling was not read"},
		{"house/house.yaml:12:9", `should be "undecided", and is "fails"`, "1.600 ± 0.001"},
	} {
		d := out[i]
		if d.Code != "example-fails" || !strings.Contains(d.Summary, want.says) {
			t.Errorf("%d: %s", i, d.Error())
		}
		if d.Detail != "Correct the example, or the rule's condition. The values below decided it." {
			t.Errorf("%d: %q", i, d.Detail)
		}
		if d.Span.String() != want.where {
			t.Errorf("%d stands at %s", i, d.Span)
		}
		values := ""
		for _, v := range d.Values {
			values += v.Name + " " + v.Value + "; "
		}
		if !strings.Contains(values, want.value) {
			t.Errorf("%d: %q is not in %q", i, want.value, values)
		}
	}
	if r := rs.Rule("doubled-edges"); len(r.Examples) != 3 || r.Examples[2].Is != logic.Undecided || r.Examples[0].Case == nil {
		t.Error("the examples of a rule are not kept")
	}
}
