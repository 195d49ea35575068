package desk

import (
	"net/http"
	"strings"
	"testing"

	"whystone/cmd/whystone/users"
)

// TestRulesetPage: the layers, with what stands in each, and since when the ruleset is live.
func TestRulesetPage(t *testing.T) {
	h := newHouse(t)
	a := h.as(users.Staff).get("/ruleset")
	for _, want := range []string{h.now().Ruleset.Digest, "diamond-desk", "house", "2031-04-12",
		"What proofreading finds"} {
		if a.status != http.StatusOK || !strings.Contains(a.body, want) {
			t.Errorf("%d: no %q", a.status, want)
		}
	}
}
