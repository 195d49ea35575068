package load_test

import (
	"strings"
	"testing"

	"whystone/kb/load/loadtest"
)

// TestLabels: what a form calls a reading stands on the sheet, and its outcomes are listed as the sheet has them; a
// further test's own label counts there.
func TestLabels(t *testing.T) {
	rs := loadtest.Must(t, map[string]string{"house.yaml": `format: 1
tests:
  - test: glow
    name: looking for a glow
    harm: none
    source: invented
    yields:
      glow: {label: What glows, kind: choice, family: luminescence, blunder: 0.1, choices: {strong: {}, faint: {}, none: {}, bright: {covers: [strong, faint]}}}
  - {test: glow-again, name: the same in the dark, harm: none, source: invented, yields: {glow: {blunder: 0.2}}}
  - {test: glow-photo, name: a photograph of it, harm: none, source: invented, yields: {glow: {label: The picture, blunder: 0.2}}}
`})
	o := rs.Vocabulary.Observable("glow")
	var listed []string
	for _, x := range o.Listed() {
		listed = append(listed, x.Name)
	}
	if got := strings.Join(listed, " "); got != "strong faint none bright" {
		t.Errorf("listed as %s", got)
	}
	if got := strings.Join(o.Words(), " "); got != "bright faint none strong" {
		t.Errorf("kept as %s", got)
	}
	for test, want := range map[string]string{"glow": "What glows", "glow-again": "What glows",
		"glow-photo": "The picture"} {
		if got := rs.Vocabulary.Yield(test, o).Label; got != want {
			t.Errorf("%s: %q", test, got)
		}
	}
	if y := rs.Vocabulary.Yield("refractometer", rs.Vocabulary.Observable("ri")); y.Label != "" {
		t.Errorf("a label is made up: %q", y.Label)
	}
}
