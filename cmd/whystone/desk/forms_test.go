package desk

import (
	"net/http"
	"strings"
	"testing"

	"whystone/cmd/whystone/users"
)

// TestFormsThatCantBeRead: whatever a form is for, one that comes broken is told so, and nothing is done.
func TestFormsThatCantBeRead(t *testing.T) {
	h := newHouse(t)
	at := "/cases/" + h.diamond()
	before := h.state(strings.TrimPrefix(at, "/cases/")).Version
	b := h.as(users.Administrator)
	for _, path := range []string{"/cases", "/password", "/users", "/replays", at + "/close", at + "/photographs"} {
		for media, body := range map[string]string{"application/x-www-form-urlencoded": "seen=%zz",
			"multipart/form-data; boundary=x": "--x\r\nContent-Disposition: form-data; name=\"seen\"\r\n\r\n1"} {
			r := b.request(http.MethodPost, path, strings.NewReader(body))
			r.Header.Set("Content-Type", media)
			r.Header.Set("Origin", b.srv.URL)
			b.do(r).says(t, http.StatusUnprocessableEntity, "The form can't be read.")
		}
	}
	if got := h.state(strings.TrimPrefix(at, "/cases/")); got.Version != before || got.Closed {
		t.Errorf("version %d became %d", before, got.Version)
	}
}
