package desk

import (
	"net/http"
	"regexp"
	"strings"
	"testing"

	"whystone/cmd/whystone/users"
)

// TestPeople: an administrator adds a user, who signs in by the word and chooses a password; takes it away again; gives
// another role; removes them. The audit has it all, and nobody else sees any of it.
func TestPeople(t *testing.T) {
	h := newHouse(t)
	b := h.as(users.Administrator)
	a := b.post("/users", "name", "Ben Ashe", "role", "staff")
	word := regexp.MustCompile(`<code>([^<]+)</code>`).FindStringSubmatch(a.body)
	if a.status != http.StatusOK || word == nil {
		t.Fatalf("%d %s", a.status, a.body)
	}
	if again := b.get("/users"); strings.Contains(again.body, word[1]) || !strings.Contains(again.body, "ben ashe") {
		t.Error("the word is shown again, or the user is not")
	}
	ben := h.browser()
	if a := ben.post("/sign-in", "name", "ben ashe", "password", word[1]); a.status != http.StatusSeeOther {
		t.Fatalf("%d %s", a.status, a.body)
	}
	if a := b.post("/users/ben%20ashe/role", "role", "author"); a.status != http.StatusSeeOther {
		t.Errorf("%d %s", a.status, a.body)
	}
	if a := b.post("/users/ben%20ashe/role", "role", "autor"); a.status != http.StatusUnprocessableEntity ||
		!strings.Contains(a.body, "did you mean") {
		t.Errorf("%d %s", a.status, a.body)
	}
	if a := b.post("/users/ben%20ashe/remove"); a.status != http.StatusUnprocessableEntity {
		t.Errorf("removed unasked: %d", a.status)
	}
	if a := b.post("/users/ben%20ashe/reset"); a.status != http.StatusOK ||
		!strings.Contains(a.body, "shown only now") {
		t.Errorf("%d %s", a.status, a.body)
	}
	if a := ben.get("/password"); a.status == http.StatusOK {
		t.Error("who has no password any more is still signed in")
	}
	if a := b.post("/users/ben%20ashe/remove", "sure", "yes"); a.status != http.StatusSeeOther {
		t.Errorf("%d %s", a.status, a.body)
	}
	audit := b.get("/audit").body
	if n := strings.Count(audit, "ben ashe"); n < 5 {
		t.Errorf("the audit has %d lines of ben ashe\n%s", n, audit)
	}
	if a := b.post("/users/administrator/remove", "sure", "yes"); a.status != http.StatusUnprocessableEntity {
		t.Errorf("the last administrator is gone: %d", a.status)
	}
	for _, role := range []users.Role{users.Staff, users.Author, users.Quality} {
		for _, path := range []string{"/users", "/audit"} {
			if a := h.as(role).get(path); a.status != http.StatusForbidden {
				t.Errorf("%s sees %s: %d", role, path, a.status)
			}
		}
	}
}
