package engine_test

import (
	"fmt"
	"strings"
	"testing"

	"whystone/engine"
	"whystone/engine/enginetest"
	"whystone/engine/phrase"
)

// TestWeightAndSizeUnlike: weight and measurements that no stone can have together are told of, in whatever unit they
// slipped, and nothing is reckoned from them; those that go together are not.
func TestWeightAndSizeUnlike(t *testing.T) {
	rs := enginetest.Ruleset(t)
	j := engine.Prepare(rs).NewJudge()
	for stone, want := range map[string]string{
		"carat: 0.88, length_mm: 6.45, width_mm: 6.48, depth_mm: 3.96":    "",
		"carat: 0.88, length_mm: 6.45, width_mm: 6.48, depth_mm: 396":     "0.0307",
		"carat: 0.88, length_mm: 0.645, width_mm: 0.648, depth_mm: 0.396": "3,070",
		"carat: 0.176, length_mm: 6.45, width_mm: 6.48, depth_mm: 3.96":   "0.614",
	} {
		c := readCase(rs, fmt.Sprintf("format: 1\ncase: A-1\ntaken: 2031-04-12\nstone: {mounted: false, cut: round "+
			"brilliant, %s}\nreadings: {thermal_probe: diamond range}\n", stone))
		got := ""
		for _, n := range j.Explain(c, moment).Cautions {
			if n.Code == phrase.SizesUnlike {
				_, text, _ := strings.Cut(n.Says, "size density of ")
				got, _, _ = strings.Cut(text, ", and")
			}
		}
		if got != want {
			t.Errorf("%s: a density of %q is told of, and %q is wanted", stone, got, want)
		}
		if reckoned := c.Has(rs.Vocabulary.Observable("size_density")); reckoned != (want == "") {
			t.Errorf("%s: a density is reckoned: %t", stone, reckoned)
		}
	}
}
