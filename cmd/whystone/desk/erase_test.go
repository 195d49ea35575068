package desk

import (
	"net/http"
	"strings"
	"testing"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/users"
)

// TestErase: an administrator erases what is held of a customer; readings and verdict stay, the chain is whole, and it
// stands in the history and in the audit.
func TestErase(t *testing.T) {
	h := newHouse(t)
	number := h.diamond() // with a note
	at := "/cases/" + number
	staff := h.as(users.Staff)
	staff.post(at+"/notes", "what", "customer", "text", "M. Example, 4 Quay Lane")
	staff.enter(number, "refractometer", "ri", "bound", "above", "above", "1.81", "note", "seen twice")
	staff.send(at+"/photographs", "photograph", "a.jpg", photographOf(t), ofThePhotograph...)
	b := h.as(users.Administrator)
	b.get(at+"/erase").says(t, 200, "in the blue box", "M. Example, 4 Quay Lane", "seen twice", "frosted", "What stays",
		"Backups, exports and copies of the disk")
	b.post(at+"/erase", "customer", "yes", "seen", "5").says(t, 422, "Tick that you are sure")
	b.post(at+"/erase", "sure", "yes", "seen", "5").says(t, 422, "Nothing is held of what was ticked")
	b.post(at+"/erase", "sure", "yes", "seen", "4", "customer", "yes").says(t, 409,
		"has changed since you looked at it")
	if got := h.state(number); got.Version != 5 || len(got.Held) != 5 {
		t.Fatalf("version %d, %d things held", got.Version, len(got.Held))
	}
	a := b.post(at+"/erase", "customer", "yes", "pictures", "yes", "sure", "yes", "seen", "5", "because", "asked for")
	a.says(t, 200, "Erased.", "in the blue box", "seen twice")
	for _, gone := range []string{"Example", "frosted"} {
		if strings.Contains(a.body, gone) || strings.Contains(staff.get(at).body, gone) {
			t.Errorf("%s is still shown", gone)
		}
	}
	staff.get(at).says(t, 200, "erased", "asked for", "RI above 1.81")
	b.get("/audit").says(t, 200, "erased", number+": customer, photographs")
	b.post(at+"/erase", "notes", "yes", "sure", "yes", "seen", "6").says(t, 200, "Nothing is held apart of this case.")
	h.ok(h.Book.Read(ctx, func(v casebook.View) error {
		all, err := v.Particulars(number)
		if err == nil && len(all) > 0 {
			t.Errorf("%d things are still held", len(all))
		}
		return err
	}))
	if a := staff.get(at + "/erase"); a.status != http.StatusForbidden {
		t.Errorf("staff: %d", a.status)
	}
	if strings.Contains(staff.get(at).body, "/erase") {
		t.Error("staff are shown the way to it")
	}
}
