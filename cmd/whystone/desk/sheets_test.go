package desk

import (
	"bytes"
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"whystone/cmd/whystone/catalog"
	"whystone/cmd/whystone/terminal"
	"whystone/cmd/whystone/users"
)

// asJSON is an object as commands and pages write it.
func asJSON(t *testing.T, object any) string {
	t.Helper()
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(object); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// TestSheetsAreWhatCommandsGive: asked for as data, a page of a sheet gives what the command of that sheet gives.
func TestSheetsAreWhatCommandsGive(t *testing.T) {
	h := newHouse(t)
	b, rs := h.as(users.Staff), h.now().Ruleset
	data := func(path string) string {
		r := b.request("GET", path, nil)
		r.Header.Set("Accept", "application/json")
		return b.do(r).body
	}
	for _, m := range rs.Nodes {
		if got, want := data("/materials/"+m.ID), asJSON(t, catalog.OfMaterial(rs, m)); got != want {
			t.Fatalf("%s\n%s\n%s", m.ID, got, want)
		}
	}
	for _, x := range rs.Tests {
		if got, want := data("/tests/"+x.ID), asJSON(t, catalog.OfTest(x)); got != want {
			t.Fatalf("%s\n%s\n%s", x.ID, got, want)
		}
	}
	for _, r := range rs.Rules {
		if got, want := data("/rules/"+r.ID), asJSON(t, catalog.OfRule(rs, r)); got != want {
			t.Fatalf("%s\n%s\n%s", r.ID, got, want)
		}
	}
	if got, want := data("/materials/diamond?beside=zircon"), asJSON(t,
		terminal.Compare(rs, rs.Node("diamond"), rs.Node("zircon"))); got != want {
		t.Errorf("%s\n%s", got, want)
	}
}

// TestSheetPages: every sheet has a page, and the page has its words.
func TestSheetPages(t *testing.T) {
	h := newHouse(t)
	b, rs := h.as(users.Staff), h.now().Ruleset
	page := func(path string, words ...string) {
		a := b.get(path)
		if a.status != http.StatusOK {
			t.Errorf("%s: %d", path, a.status)
		}
		for _, w := range words {
			if !strings.Contains(a.body, w) {
				t.Errorf("%s has no %q", path, w)
			}
		}
	}
	for _, m := range rs.Nodes {
		page("/materials/"+m.ID, m.ID)
	}
	for _, x := range rs.Tests {
		page("/tests/"+x.ID, "Gives ")
	}
	for _, r := range rs.Rules {
		page("/rules/"+r.ID, r.ID)
	}
	page("/materials?search=yag", "yttrium aluminium garnet")
	page("/materials?search=nosuch", "Nothing here has")
	page("/materials/zircon?beside=diamond", "Tells them apart", "wholly")
	page("/rules?about=zircon", "that speak of")
	page("/tests", "Never done to find out")
	page("/tests/acid-drop", "It is never suggested")
	if a := b.get("/materials/zirkon"); a.status != http.StatusNotFound || !strings.Contains(a.body, "did you mean") {
		t.Errorf("%d %s", a.status, a.body)
	}
}
