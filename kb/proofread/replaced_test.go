package proofread

import (
	"os"
	"strings"
	"testing"
	"testing/fstest"

	"whystone/kb/load"
)

// TestReplacedForATime: what replaces a rule on some days neither repeats it nor pulls against it, as the two are never
// in force together; and a rule that is left no day is told.
func TestReplacedForATime(t *testing.T) {
	rule := func(dates, effect string) string {
		return "format: 1\nrules:\n  - {rule: new-single, says: Ours., if: 'high_index and optic_character == " +
			"\"isotropic\"', " + effect + ": {materials: [diamond], strength: weak}, " +
			"family: refraction, source: invented, replaces: high-and-single, because: y, " + dates +
			", examples: [{readings: {ri: 1.544}, is: fails}, {readings: {ri: {above: 1.81}, optic_character: " +
			"isotropic}, is: holds}]}\n"
	}
	for _, text := range []string{rule("since: 2031-05-01", "supports"), rule("since: 2031-05-01", "weakens"),
		rule("until: 2031-05-01", "weakens"), rule("status: draft", "supports"), rule("status: draft", "weakens")} {
		rs := above(t, text)
		if (rs.Rule("high-and-single").ReplacedBy == nil) != strings.Contains(text, "draft") {
			t.Fatal("it is not replaced, or by a draft")
		}
		if found := diagnostics(report(t, rs)); len(found) > 0 {
			t.Error(written(t, found))
		}
	}
	// Without the replacing, the same two are told of.
	for effect, code := range map[string]string{"supports": "repeats-rule", "weakens": "pulls-both-ways"} {
		text := strings.Replace(rule("since: 2031-05-01", effect), "replaces: high-and-single, because: y, ", "", 1)
		if found := diagnostics(report(t, above(t, text))); len(found) != 1 || string(found[0].Code) != code {
			t.Errorf("want %s: %s", code, written(t, found))
		}
	}

	text := "format: 1\nrules:\n  - {rule: short-lived, says: x, if: ri > 1.7, cautions: x, until: 2031-05-01, " +
		"source: x, examples: [{readings: {ri: 1.75}, is: holds}, {readings: {ri: 1.6}, is: fails}]}\n"
	longer := strings.NewReplacer("short-lived", "longer-lived", "until: 2031-05-01",
		"until: 2031-09-01, replaces: short-lived, because: y").Replace(text)
	rs := loaded(t, load.Layer{Name: "base", FS: os.DirFS("testdata/base")},
		load.Layer{Name: "house", FS: fstest.MapFS{"house.yaml": {Data: []byte(text)}}},
		load.Layer{Name: "desk", FS: fstest.MapFS{"desk.yaml": {Data: []byte(longer)}}})
	found := diagnostics(report(t, rs))
	if len(found) != 1 || found[0].Code != "never-holds" ||
		found[0].Summary != `"short-lived" is never in force: rules that replace it are, on all of its days` {
		t.Error(written(t, found))
	}
}
