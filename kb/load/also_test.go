package load_test

import (
	"strings"
	"testing"

	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/load/loadtest"
	"whystone/kb/syntax"
)

// TestOtherNames: a case may call an observable as people do, and say that a scale stayed dark in their words; a
// condition is told the name instead.
func TestOtherNames(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"house.yaml": `format: 1
tests:
  - test: spring
    name: a spring balance
    harm: none
    source: invented
    yields:
      pull: {kind: quantity, also: [heaviness, P.U.L.L.], family: mechanics, unit: N, span: [0, 100], limits: [0, 20], uncertainty: 0.1, blunder: 0.01}
`})
	read := func(readings string) (string, diag.List) {
		var found diag.List
		root := syntax.ParseYAML(diag.NewSource("case.yaml", []byte("case: X\nreadings: "+readings+"\n")), &found)
		if len(root) == 0 {
			t.Fatal(found)
		}
		c := eval.CaseReader(rs).Read(root[0], &found)
		if c == nil || len(c.Readings) == 0 {
			return "", found
		}
		return c.Readings[0].Observable.Name, found
	}
	for _, name := range []string{"pull", "Pull", "heaviness", "Heaviness", `"p.u.l.l."`} {
		if got, found := read("{" + name + ": 3}"); got != "pull" || len(found) > 0 {
			t.Errorf("%s is read as %q\n%v", name, got, found)
		}
	}
	for _, words := range []string{"over the limit", "Over Limit", "OTL"} {
		if got, found := read("{pull: " + words + "}"); got != "pull" || len(found) > 0 {
			t.Errorf("%s is read as %q\n%v", words, got, found)
		}
	}
	if _, found := read("{pull: 3, heaviness: 4}"); len(found) != 1 || found[0].Code != diag.GivenTwice {
		t.Errorf("two names of one observable: %v", found)
	}
	if _, found := read("{specific_gravity: over the limit}"); len(found) != 1 || found[0].Code != diag.BadNumber {
		t.Errorf("a scale without a limit: %v", found)
	}
	_, found := loadtest.House(t, map[string]string{"house.yaml": "format: 1\ntests:\n  - {test: a, name: a, harm: " +
		"none, source: invented, yields: {pull: {kind: quantity, also: [heaviness], family: m, unit: N, span: [0, " +
		"9], uncertainty: 0.1, blunder: 0.01}}}\n" +
		"  - {test: b, name: b, harm: none, source: invented, yields: {push: {kind: quantity, also: [Heaviness, " +
		"pull], family: m, unit: N, span: [0, 9], uncertainty: 0.1, blunder: 0.01}}}\n" +
		"rules:\n  - {rule: r, says: x, if: heaviness > 3, cautions: y}\n"})
	text := loadtest.Render(t, found)
	for _, want := range []string{`"Heaviness" is a name of pull already`, `"pull" is a name of pull already`} {
		if !strings.Contains(text, want) {
			t.Errorf("not told: %s\n%s", want, text)
		}
	}
	_, found = loadtest.House(t, map[string]string{"house.yaml": "format: 1\ntests:\n  - {test: a, name: a, harm: " +
		"none, source: invented, yields: {pull: {kind: quantity, also: [heaviness of it], family: m, unit: N, span: " +
		"[0, 9], uncertainty: 0.1, blunder: 0.01}}}\n" +
		"rules:\n  - {rule: r, says: x, if: heaviness_of_it > 3, cautions: y}\n"})
	if len(found) != 1 || found[0].Nearest != "pull" {
		t.Errorf("a condition is not told the name: %v", found)
	}
}
