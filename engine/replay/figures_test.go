package replay

import (
	"strings"
	"testing"

	"whystone/engine"
)

// TestRatesAreOfWhatCanBeJudged: each rate divides by the cases that could have been wrong in its way, so that a name
// given to a stone whose truth nobody knows is no name that was right, and no more are wrong than were looked at.
func TestRatesAreOfWhatCanBeJudged(t *testing.T) {
	e := loaded(t, nil)
	rs := e.Ruleset
	c := Config{Engine: e}
	s := newSide(e, c.memories()[0])
	s.d = engine.Decision{Class: engine.Identified, Named: rs.Node("cubic-zirconia"), Claim: engine.ClaimAnswer{
		Claim: rs.Claim("natural diamond"), Answer: engine.Falls, Group: rs.Node("diamond"), GroupAnswer: engine.Falls}}
	for truth, want := range map[string][4]string{
		"":                {"none to judge by", "none to judge by", "none to judge by", "0 of 1"},
		"natural-diamond": {"none to judge by", "1 of 1", "1 of 1", "0 of 1"},
		"cvd-diamond":     {"0 of 1", "1 of 1", "1 of 1", "0 of 1"}, // a diamond, refused as one
		"cubic-zirconia":  {"0 of 1", "none to judge by", "0 of 1", "0 of 1"},
	} {
		o := s.worth(rs.Node(truth))
		for i, r := range o.Rates() {
			if !strings.HasPrefix(r.Percent(), want[i]) {
				t.Errorf("truth %q: %s %s, want %s", truth, r.Says, r.Percent(), want[i])
			}
		}
	}
}

// TestClip: a long text ends with a whole word, unless it has no blank near its end.
func TestClip(t *testing.T) {
	for text, want := range map[string]string{
		"a number is wanted":      "a number is wanted",
		"a number is expected":    "a number is...",
		"one number, expected":    "one number,...",
		"sesquipedalian-words":    "sesquipedalian-...",
		"a sesquipedalian-wor":    "a sesquipedalia...",
		"ä ö ü ä ö ü ä ö ü ä ö ü": "ä ö ü ä ö ü ä ö...",
	} {
		if got := clip(text, 18); got != want {
			t.Errorf("%q is clipped to %q, want %q", text, got, want)
		}
	}
}
