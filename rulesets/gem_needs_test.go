package rulesets_test

import (
	"slices"
	"strings"
	"testing"

	"whystone/engine/enginetest"
	"whystone/kb/eval"
)

// TestNeedsOfTheCut: a test that wants a flat facet, two of them or a clear stone can't be done on a stone that is
// known to lack it; where nobody wrote the form down it can, and nothing is asked first.
func TestNeedsOfTheCut(t *testing.T) {
	rs := gemDesk(t)
	run := eval.New(rs)
	for _, tt := range []struct {
		readings string
		lacking  []string
	}{
		{"{colour: red}", nil},
		{"{form: faceted, transparency: transparent}", nil},
		{"{form: faceted, transparency: opaque}", []string{"prism-spectrometer"}},
		{"{form: cabochon}", []string{"prism-spectrometer", "reflectivity-meter"}},
		{"{form: bead}", []string{"prism-spectrometer", "reflectivity-meter", "refractometer"}},
		{"{form: plate}", []string{"prism-spectrometer"}},
	} {
		c := enginetest.Case(t, rs, "case", "case: c\nreadings: "+tt.readings+"\n")
		run.Do(c, judgedOn)
		var lacking []string
		for _, id := range []string{"prism-spectrometer", "reflectivity-meter", "refractometer", "spot-reading"} {
			n := run.Needs(rs.Test(id))
			if !n.Feasible() {
				lacking = append(lacking, id)
			}
			if slices.ContainsFunc(n.Unknown, func(s string) bool { return strings.Contains(s, "polished") }) {
				t.Errorf("%s: %s asks first: %q", tt.readings, id, n.Unknown)
			}
		}
		if !slices.Equal(lacking, tt.lacking) {
			t.Errorf("%s: %q can't be done, and %q should be so", tt.readings, lacking, tt.lacking)
		}
	}
}
