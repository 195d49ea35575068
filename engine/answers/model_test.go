package answers

import (
	"fmt"
	"strings"
	"testing"
	"testing/fstest"

	"whystone/engine/enginetest"
	"whystone/kb"
	"whystone/kb/load"
)

// five is an invented ruleset in which a verdict needs five readings: five looks, each of a family of its own, each
// speaking so weakly for one of two stones that four leave the other open.
func five(tb testing.TB) *kb.Ruleset {
	tb.Helper()
	var tests strings.Builder
	tests.WriteString("format: 1\ntests:\n")
	var sheets [2]strings.Builder
	for _, x := range "abcde" {
		fmt.Fprintf(&tests, "  - {test: test-%c, name: look %c, harm: none, source: invented, yields: {look_%c: "+
			"{kind: choice, family: family %c, blunder: 0.01, choices: [%q, %q]}}}\n",
			x, x, x, x, "clear", "dull")
		fmt.Fprintf(&sheets[0], "      look_%c: {seen: {%q: usually}, source: invented}\n", x, "clear")
		fmt.Fprintf(&sheets[1], "      look_%c: {seen: {%q: often}, source: invented}\n", x, "clear")
	}
	materials := "format: 1\nmaterials:\n  - {group: stones, name: stones}\n"
	for i, id := range []string{"stone-a", "stone-b"} {
		materials += fmt.Sprintf("  - material: %s\n    under: stones\n    name: %s\n    origin: natural\n    "+
			"seen_at_counter: common\n    outcomes:\n%s", id, strings.ReplaceAll(id, "-", " "), sheets[i].String())
	}
	policy := `format: 1
policy:
  time_zone: UTC
  currency: EUR
  rival: 10
  unlisted: 0.000001
  frequency: {always: 0.98, usually: 0.85, often: 0.4, sometimes: 0.2, rarely: 0.03, never: 0}
  strength: {weak: 3}
  scale: [{from: 1, says: weak}]
  seen_at_counter: {common: 30}
  required: [{stake: 0, share: 0.97, doubt_limit: 0.15}]
`
	rs, l := load.Load(tb.Context(), []load.Layer{{Name: "five",
		FS: fstest.MapFS{"tests.yaml": {Data: []byte(tests.String())},
			"materials.yaml": {Data: []byte(materials)}, "policy.yaml": {Data: []byte(policy)},
			"rules.yaml": {Data: []byte("format: 1\nrules: []\n")}}}})
	if rs == nil {
		tb.Fatal(enginetest.Findings(l))
	}
	return rs
}
