package users_test

import (
	"context"
	"crypto/rand"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"whystone/cmd/whystone/users"
	"whystone/cmd/whystone/users/memory"
)

var ctx = context.Background()

// cheap makes tests quick.
var cheap = users.Cost{Passes: 1, Memory: 64, Threads: 1}

type house struct {
	*users.Register
	t  *testing.T
	at time.Time
}

// newHouse has an administrator anna, whose password is good.
func newHouse(t *testing.T) *house {
	t.Helper()
	h := &house{t: t, at: time.Date(2031, 4, 12, 9, 0, 0, 0, time.UTC)}
	h.Register = users.New(memory.New(), func() time.Time { return h.at }, rand.Reader, cheap)
	word, err := h.SetUp(ctx, "Harrow Quay", "Anna")
	if err != nil {
		t.Fatal(err)
	}
	who := h.in("anna", word)
	if !who.Choose || who.Role != users.Administrator {
		t.Fatalf("%+v", who)
	}
	h.ok(h.Choose(ctx, who, "", good))
	return h
}

const good = "three grey geese fly"

func (h *house) ok(err error) {
	h.t.Helper()
	if err != nil {
		h.t.Fatal(err)
	}
}

func (h *house) in(name, password string) *users.Somebody {
	h.t.Helper()
	token, err := h.SignIn(ctx, name, password, "here")
	h.ok(err)
	who, err := h.Who(ctx, token, true)
	h.ok(err)
	if who == nil {
		h.t.Fatal("nobody is signed in")
	}
	return who
}

func (h *house) refuses(name, password string) {
	h.t.Helper()
	if token, err := h.SignIn(ctx, name, password, "elsewhere "+password); token != "" ||
		!errors.Is(err, users.ErrSignIn) {
		h.t.Errorf("%s with %q: %v", name, password, err)
	}
}

func TestSignIn(t *testing.T) {
	h := newHouse(t)
	if who := h.in(" ANNA ", good); who.Name != "anna" || who.Choose {
		t.Errorf("%+v", who)
	}
	for _, wrong := range []string{"", "x", good + " ", strings.ToUpper(good), strings.Repeat("x", 10000)} {
		h.refuses("anna", wrong)
		h.refuses("nobody", wrong)
	}
	if who, err := h.Who(ctx, "made up", true); who != nil || err != nil {
		t.Errorf("%v, %v", who, err)
	}
	if who, err := h.Who(ctx, "", true); who != nil || err != nil {
		t.Errorf("%v, %v", who, err)
	}
}

func TestWordIsGoodOnce(t *testing.T) {
	h := newHouse(t)
	word, err := h.Add(ctx, "anna", "ben", users.Staff)
	h.ok(err)
	who := h.in("ben", " "+strings.ToUpper(word)+" ")
	h.ok(h.Choose(ctx, who, "", "another long password"))
	h.refuses("ben", word)
	h.in("ben", "another long password")
	word, err = h.Add(ctx, "anna", "cora", users.Staff)
	h.ok(err)
	h.at = h.at.Add(8 * 24 * time.Hour)
	h.refuses("cora", word)
}

func TestPasswords(t *testing.T) {
	h := newHouse(t)
	who := h.in("anna", good)
	for _, bad := range []string{"", "short", "elevenletts", "anna-anna-an", strings.Repeat("x", 501),
		"twelve letters\xff"} {
		var refused *users.Refused
		if err := h.Choose(ctx, who, good, bad); !errors.As(err, &refused) {
			t.Errorf("%q is taken: %v", bad, err)
		}
	}
	if err := h.Choose(ctx, who, "not it", "a good long password"); err == nil {
		t.Error("a password is chosen without that of now")
	}
	other := h.in("anna", good)
	h.ok(h.Choose(ctx, who, good, "a good long password"))
	if err := h.SignOut(ctx, who); err != nil {
		t.Error(err)
	}
	if err := h.Choose(ctx, other, "a good long password", "and yet another one"); err == nil {
		t.Error("the other session goes on")
	}
}

func TestSessionsEnd(t *testing.T) {
	h := newHouse(t)
	word, err := h.Add(ctx, "anna", "ben", users.Staff)
	h.ok(err)
	token := func(name, password string) string {
		t.Helper()
		out, err := h.SignIn(ctx, name, password, "here")
		h.ok(err)
		return out
	}
	signedIn := func(token string, acts bool) bool {
		t.Helper()
		who, err := h.Who(ctx, token, acts)
		h.ok(err)
		return who != nil
	}
	idle, busy := token("anna", good), token("anna", good)
	for range 3 {
		h.at = h.at.Add(users.LastsIdle/2 + time.Minute)
		if !signedIn(busy, true) {
			t.Error("a session ends that is used")
		}
	}
	if signedIn(idle, true) {
		t.Error("an idle session goes on")
	}
	watching := token("anna", good)
	for range 3 {
		h.at = h.at.Add(users.LastsIdle/2 + time.Minute)
		if signedIn(watching, false) && h.at.Sub(time.Time{}) < 0 {
			t.Error("never")
		}
		signedIn(busy, true)
	}
	if signedIn(watching, false) {
		t.Error("a page that only follows keeps its session alive")
	}
	for range 12 {
		h.at = h.at.Add(users.LastsAtMost / 12)
		signedIn(busy, true)
	}
	if signedIn(busy, true) {
		t.Error("a session has no end")
	}
	for name, end := range map[string]func() error{
		"reset":  func() error { word, err = h.Reset(ctx, "anna", "ben"); return err },
		"remove": func() error { return h.Remove(ctx, "anna", "ben") },
	} {
		if name == "remove" {
			continue // last
		}
		ben := token("ben", word)
		h.ok(end())
		if signedIn(ben, true) {
			t.Errorf("%s: the session goes on", name)
		}
	}
	ben := token("ben", word)
	h.ok(h.Remove(ctx, "anna", "Ben"))
	if signedIn(ben, true) {
		t.Error("a removed user's session goes on")
	}
	h.refuses("ben", word)
}

func TestTooManyTries(t *testing.T) {
	h := newHouse(t)
	var tooMany *users.TooMany
	tries := 0
	for tries < 100 {
		_, err := h.SignIn(ctx, "anna", "wrong", "there")
		if errors.As(err, &tooMany) {
			break
		}
		tries++
	}
	if tries != 5 || tooMany.Wait <= 0 {
		t.Fatalf("%d tries, then %v", tries, tooMany)
	}
	if _, err := h.SignIn(ctx, "anna", good, "there"); !errors.As(err, &tooMany) {
		t.Errorf("the right password is let through at once: %v", err)
	}
	h.in("anna", good) // from elsewhere
	h.at = h.at.Add(tooMany.Wait + time.Second)
	if _, err := h.SignIn(ctx, "anna", "wrong", "there"); !errors.Is(err, users.ErrSignIn) {
		t.Errorf("after the wait: %v", err)
	}
	first := tooMany.Wait
	if _, err := h.SignIn(ctx, "anna", "wrong", "there"); !errors.As(err, &tooMany) || tooMany.Wait <= first {
		t.Errorf("the wait gets no longer: %v", err)
	}
	h.at = h.at.Add(time.Hour)
	if _, err := h.SignIn(ctx, "anna", good, "there"); err != nil {
		t.Errorf("an hour later: %v", err)
	}
	tries = 0
	for ; tries < 100; tries++ { // another name each time
		if _, err := h.SignIn(ctx, strings.Repeat("a", tries+1), "wrong", "one place"); errors.As(err, &tooMany) {
			break
		}
	}
	if tries != 30 {
		t.Errorf("%d names are tried from one place", tries)
	}
}

func TestLastAdministrator(t *testing.T) {
	h := newHouse(t)
	if h.Remove(ctx, "anna", "anna") == nil || h.SetRole(ctx, "anna", "anna", users.Staff) == nil {
		t.Error("the house is left without an administrator")
	}
	_, err := h.Add(ctx, "anna", "ben", users.Staff)
	h.ok(err)
	h.ok(h.SetRole(ctx, "anna", "ben", users.Administrator))
	h.ok(h.SetRole(ctx, "ben", "anna", users.Author))
	if h.Remove(ctx, "ben", "ben") == nil {
		t.Error("the house is left without an administrator")
	}
	if _, err := h.SetUp(ctx, "Another", "cora"); err == nil {
		t.Error("a house is set up twice")
	}
}

func TestNames(t *testing.T) {
	h := newHouse(t)
	for _, bad := range []string{"", " ", "-a", "a\nb", "a<b", "a@b", strings.Repeat("a", 41)} {
		if bad == "a\nb" {
			continue // spaces are folded
		}
		if _, err := h.Add(ctx, "anna", bad, users.Staff); err == nil {
			t.Errorf("%q is taken", bad)
		}
	}
	for _, name := range []string{"Jürgen", "o'neill", "desk 2", "x"} {
		if _, err := h.Add(ctx, "anna", name, users.Staff); err != nil {
			t.Errorf("%q: %v", name, err)
		}
	}
	if _, err := h.Add(ctx, "anna", " Desk  2", users.Staff); err == nil {
		t.Error("one name twice")
	}
	if err := h.Remove(ctx, "anna", "jurgen"); err == nil || !strings.Contains(err.Error(), `did you mean "jürgen"?`) {
		t.Errorf("%v", err)
	}
	if err := h.SetRole(ctx, "anna", "nobody at all", users.Staff); err == nil {
		t.Error("nobody gets a role")
	}
}

func TestAudit(t *testing.T) {
	h := newHouse(t)
	word, err := h.Add(ctx, "anna", "ben", users.Staff)
	h.ok(err)
	who := h.in("ben", word)
	h.ok(h.SetRole(ctx, "anna", "ben", users.Quality))
	h.refuses("ben", "wrong")
	h.refuses("my password typed as name", "x")
	h.ok(h.SignOut(ctx, who))
	h.ok(h.Remove(ctx, "anna", "ben"))
	all, err := h.Audit(ctx, 100)
	h.ok(err)
	var did []string
	for _, e := range slices.Backward(all) {
		did = append(did, e.By+" "+e.Did)
		if strings.Contains(e.By+e.Whom+e.More+e.Did, word) || strings.Contains(e.By, "typed") {
			t.Errorf("a secret stands in the audit: %+v", e)
		}
	}
	want := []string{"anna house set up", "anna signed in", "anna password chosen", "anna user added", "ben signed in",
		"anna role changed", "ben sign-in refused", "somebody unknown sign-in refused", "ben signed out",
		"anna user removed"}
	if !slices.Equal(did, want) {
		t.Errorf("%q", did)
	}
}

// TestTable: each role may do what the table says, and nothing that it does not.
func TestTable(t *testing.T) {
	want := map[users.Role]string{users.Staff: "110000", users.Author: "110100", users.Quality: "111100",
		users.Administrator: "111111", "": "000000", "owner": "000000"}
	for role, says := range want {
		got := ""
		for _, a := range users.Actions() {
			got += map[bool]string{true: "1", false: "0"}[role.May(a)]
		}
		if got != says {
			t.Errorf("%s: %s", role, got)
		}
		if !role.May(users.Anyone) || role.May("an action that there is not") {
			t.Errorf("%s", role)
		}
	}
	if _, err := users.ParseRole("admininstrator"); err == nil || !strings.Contains(err.Error(),
		`did you mean "administrator"?`) {
		t.Errorf("%v", err)
	}
	if r, err := users.ParseRole(" Staff "); r != users.Staff || err != nil {
		t.Errorf("%v, %v", r, err)
	}
}
