package desk

import (
	"context"
	"crypto/rand"
	"html"
	"io"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"whystone/cmd/whystone/casebook"
	bookmemory "whystone/cmd/whystone/casebook/memory"
	"whystone/cmd/whystone/users"
	usersmemory "whystone/cmd/whystone/users/memory"
	"whystone/kb/kbtest"
	"whystone/kb/load"
	"whystone/rulesets"
)

var ctx = context.Background()

const password = "three grey geese fly"

// house is a desk in memory, with a user of each role who is called as the role is.
type house struct {
	*Desk
	t     testing.TB
	srv   *httptest.Server
	at    time.Time
	rules string // the folder of the house's own layer, which is above the shipped one
	store casebook.Store
	end   context.CancelFunc
}

func newHouse(t testing.TB) *house {
	t.Helper()
	h := &house{t: t, store: bookmemory.New(), at: time.Date(2031, 4, 12, 9, 0, 0, 0, time.UTC)}
	now := func() time.Time { return h.at }
	reg := users.New(usersmemory.New(), now, rand.Reader, users.Cost{Passes: 1, Memory: 64, Threads: 1})
	h.rules = filepath.Join(t.TempDir(), "rules")
	h.ok(os.CopyFS(h.rules, os.DirFS(filepath.Join(kbtest.Root(t), "rulesets", "house-example"))))
	within, cancel := context.WithCancel(ctx)
	d, found := Open(within, Options{Users: reg, House: "Harrow Quay (invented)", Program: "a test", Now: now,
		Log: slog.New(slog.NewTextHandler(t.Output(), &slog.HandlerOptions{Level: slog.LevelError})),
		Rules: Rules{Folders: []string{h.rules}, Layers: func() ([]load.Layer, error) {
			return []load.Layer{{Name: rulesets.DiamondDesk, FS: rulesets.FS(rulesets.DiamondDesk)},
				{Name: "house", FS: os.DirFS(h.rules)}}, nil
		}},
		Book: &casebook.Book{Store: h.store, Now: now, Random: rand.Reader, Verified: true}})
	if d == nil {
		t.Fatal(found)
	}
	h.Desk, h.end = d, cancel
	t.Cleanup(func() { cancel(); _ = d.Close() })
	h.srv = httptest.NewServer(h.Desk)
	t.Cleanup(h.srv.Close)
	word, err := reg.SetUp(ctx, "Harrow Quay (invented)", string(users.Administrator))
	h.ok(err)
	h.choose(users.Administrator, word)
	for _, r := range users.Roles[:3] {
		word, err := reg.Add(ctx, "test", string(r), r)
		h.ok(err)
		h.choose(r, word)
	}
	return h
}

func (h *house) ok(err error) {
	h.t.Helper()
	if err != nil {
		h.t.Fatal(err)
	}
}

func (h *house) choose(r users.Role, word string) {
	token, err := h.Users.SignIn(ctx, string(r), word, "test")
	h.ok(err)
	who, err := h.Users.Who(ctx, token, true)
	h.ok(err)
	h.ok(h.Users.Choose(ctx, who, "", password))
}

// browser is somebody's, as far as it keeps cookies. It follows no redirect.
type browser struct {
	*house
	client *http.Client
}

func (h *house) browser() *browser {
	jar, err := cookiejar.New(nil)
	h.ok(err)
	return &browser{h, &http.Client{Jar: jar, CheckRedirect: func(*http.Request,
		[]*http.Request) error {
		return http.ErrUseLastResponse
	}}}
}

// as is a browser in which a user of a role is signed in.
func (h *house) as(r users.Role) *browser {
	h.t.Helper()
	b := h.browser()
	if a := b.post("/sign-in", "name", string(r), "password", password); a.status != http.StatusSeeOther {
		h.t.Fatalf("%s can't sign in: %d %s", r, a.status, a.body)
	}
	return b
}

// diamond takes in a stone that is claimed to be one, with a reading, and gives the case's number.
func (h *house) diamond() string {
	h.t.Helper()
	b := h.as(users.Staff)
	a := b.post("/cases", "claim", "diamond", "stone.carat", "0.88", "stone.mounted", "false", "stake", "2600", "note",
		"in the blue box")
	number, ok := strings.CutPrefix(a.to, "/cases/")
	if !ok {
		h.t.Fatalf("%d %s", a.status, a.body)
	}
	b.enter(number, "thermal-probe", "thermal_probe", "choice", "diamond range")
	return number
}

// enter enters a reading.
func (b *browser) enter(number, test, observable string, fields ...string) answer {
	b.t.Helper()
	a := b.post("/cases/"+number+"/readings", append([]string{"test", test, "observable", observable}, fields...)...)
	if a.status != http.StatusSeeOther {
		b.t.Fatalf("%s: %d %s", observable, a.status, text(a.body))
	}
	return a
}

// text is what a page says, without its tags.
func text(page string) string {
	return strings.Join(strings.Fields(html.UnescapeString(tags.ReplaceAllString(page, " "))), " ")
}

var tags = regexp.MustCompile(`(?s)<[^>]*>`)

type answer struct {
	status int
	body   string
	header http.Header
	to     string
}

func (b *browser) do(r *http.Request) answer {
	b.t.Helper()
	res, err := b.client.Do(r)
	b.ok(err)
	defer func() { _ = res.Body.Close() }()
	body, err := io.ReadAll(res.Body)
	b.ok(err)
	return answer{res.StatusCode, string(body), res.Header, res.Header.Get("Location")}
}

func (b *browser) request(method, path string, body io.Reader) *http.Request {
	b.t.Helper()
	r, err := http.NewRequestWithContext(ctx, method, b.srv.URL+path, body)
	b.ok(err)
	return r
}

func (b *browser) get(path string) answer {
	b.t.Helper()
	return b.do(b.request(http.MethodGet, path, http.NoBody))
}

func (b *browser) post(path string, fields ...string) answer {
	b.t.Helper()
	form := url.Values{}
	for i := 0; i < len(fields); i += 2 {
		form.Add(fields[i], fields[i+1])
	}
	r := b.request(http.MethodPost, path, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Origin", b.srv.URL)
	return b.do(r)
}

// TestEveryRoute: nothing but the sign-in page and health is given without sign-in, and to each role what the table
// says.
func TestEveryRoute(t *testing.T) {
	h := newHouse(t)
	nobody := h.browser()
	number := h.diamond()
	for _, rt := range routes {
		path := pathOf(t, rt, number)
		a := nobody.do(nobody.request(rt.Method, path, http.NoBody))
		open := rt.May == users.Anyone
		switch {
		case open != (path == "/health" || path == "/sign-in"):
			t.Errorf("%s %s needs %q", rt.Method, path, rt.May)
		case open:
		case rt.Method == http.MethodGet && (a.status != http.StatusSeeOther ||
			a.to != "/sign-in?to="+url.QueryEscape(path)):
			t.Errorf("%s %s without sign-in: %d to %s", rt.Method, path, a.status, a.to)
		case rt.Method != http.MethodGet && a.status != http.StatusUnauthorized:
			t.Errorf("%s %s without sign-in: %d", rt.Method, path, a.status)
		}
		for _, role := range users.Roles {
			if path == "/sign-out" || path == "/changes" { // the one ends the session, and the other does not end
				continue
			}
			b := h.as(role)
			a := b.do(b.request(rt.Method, path, http.NoBody))
			if (a.status == http.StatusForbidden) == role.May(rt.May) {
				t.Errorf("%s %s as %s: %d", rt.Method, path, role, a.status)
			}
			if a.status >= 500 {
				t.Errorf("%s %s as %s: %d %s", rt.Method, path, role, a.status, a.body)
			}
			checkHead(t, path, a)
		}
	}
}

// checkHead: every answer says what a page may load, and no page has a script, style or handler in itself.
func checkHead(t *testing.T, path string, a answer) {
	t.Helper()
	csp := a.header.Get("Content-Security-Policy")
	if !strings.Contains(csp, "default-src 'none'") || strings.Contains(csp, "unsafe") ||
		a.header.Get("X-Content-Type-Options") != "nosniff" {
		t.Errorf("%s: %v", path, a.header)
	}
	if strings.HasSuffix(path, "/report") && a.status == http.StatusOK { // what is printed has its style in itself
		if !strings.Contains(csp, styleHash([]byte(a.body))) || strings.Count(a.body, "<style") != 1 {
			t.Errorf("%s: %s", path, csp)
		}
		a.body = strings.Replace(a.body, "<style", "", 1)
	}
	for _, bad := range []string{"<style", " style=", "<script>", "onclick=", "javascript:"} {
		if strings.Contains(a.body, bad) {
			t.Errorf("%s has %s", path, bad)
		}
	}
}

func TestSignIn(t *testing.T) {
	h := newHouse(t)
	b := h.browser()
	if a := b.post("/sign-in", "name", "staff", "password", "wrong"); a.status != http.StatusUnauthorized ||
		!strings.Contains(a.body, `value="staff"`) {
		t.Errorf("%d %s", a.status, a.body)
	}
	for to, want := range map[string]string{"/password": "/password", "//evil.example/": "/",
		"https://evil.example/": "/", `/\evil.example`: "/", "": "/"} {
		a := h.browser().post("/sign-in", "name", "staff", "password", password, "to", to)
		if a.status != http.StatusSeeOther || a.to != want {
			t.Errorf("%q leads to %q", to, a.to)
		}
		c := a.header.Get("Set-Cookie")
		if !strings.Contains(c, "HttpOnly") || !strings.Contains(c, "SameSite=Lax") {
			t.Errorf("the cookie is %s", c)
		}
	}
	b = h.as(users.Staff)
	if a := b.get("/password"); a.status != http.StatusOK || !strings.Contains(a.body, "Choose a password") {
		t.Errorf("%d", a.status)
	}
	h.at = h.at.Add(users.LastsIdle + time.Minute)
	if a := b.get("/password"); a.to != "/sign-in?to=%2Fpassword" {
		t.Errorf("an expired session gives %d %s", a.status, a.to)
	}
	if a := b.post("/password", "password", "x"); a.status != http.StatusUnauthorized {
		t.Errorf("an expired session's form gives %d", a.status)
	}
	b = h.as(users.Staff)
	if a := b.post("/sign-out"); a.to != "/sign-in" {
		t.Errorf("%d %s", a.status, a.to)
	}
	if a := b.get("/password"); a.status != http.StatusSeeOther {
		t.Error("a session goes on after it was ended")
	}
}

func TestFirstSignIn(t *testing.T) {
	h := newHouse(t)
	word, err := h.Users.Add(ctx, "test", "cora", users.Staff)
	h.ok(err)
	b := h.browser()
	b.post("/sign-in", "name", "cora", "password", word)
	for _, path := range []string{"/cases", "/take-in"} {
		if a := b.get(path); a.to != "/password" {
			t.Errorf("%s is shown before a password is chosen: %d", path, a.status)
		}
	}
	if a := b.post("/password", "password", "short"); a.status != http.StatusUnprocessableEntity ||
		!strings.Contains(a.body, "letters or more") {
		t.Errorf("%d %s", a.status, a.body)
	}
	if a := b.post("/password", "password", password); a.to != "/" {
		t.Errorf("%d %s", a.status, a.body)
	}
}

func TestTriesAreSlowedDown(t *testing.T) {
	h := newHouse(t)
	b := h.browser()
	for range 5 {
		b.post("/sign-in", "name", "staff", "password", "wrong")
	}
	if a := b.post("/sign-in", "name", "staff", "password", password); a.status != http.StatusTooManyRequests ||
		a.header.Get("Retry-After") == "" {
		t.Errorf("%d %v", a.status, a.header)
	}
}

// TestForeignPages: what another site's page sends is refused, and so is who asks by another name.
func TestForeignPages(t *testing.T) {
	h := newHouse(t)
	b := h.as(users.Staff)
	for name, head := range map[string][2]string{"another origin": {"Origin", "https://evil.example"},
		"another site": {"Sec-Fetch-Site", "cross-site"}, "the same site": {"Sec-Fetch-Site", "same-site"}} {
		r := b.request(http.MethodPost, "/sign-out", http.NoBody)
		r.Header.Set(head[0], head[1])
		if a := b.do(r); a.status != http.StatusForbidden {
			t.Errorf("%s: %d", name, a.status)
		}
	}
	if a := b.get("/password"); a.status != http.StatusOK {
		t.Error("it was signed out")
	}
	for host, want := range map[string]int{"evil.example": 421, "evil.example:7411": 421, "localhost:7411": 200,
		"127.0.0.1": 200, "[::1]:80": 200, "": 421, "192.168.0.5": 421, "localhost.evil.example": 421} {
		r := httptest.NewRequest(http.MethodGet, "/health", http.NoBody)
		r.Host = host
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code != want {
			t.Errorf("Host %q: %d", host, w.Code)
		}
	}
	r := b.request(http.MethodPost, "/password", strings.NewReader("password="+strings.Repeat("x", 2<<20)))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	if a := b.do(r); a.status < 400 {
		t.Errorf("2 MiB are taken: %d", a.status)
	}
}

func TestNothingThere(t *testing.T) {
	h := newHouse(t)
	if a := h.as(users.Staff).get("/nothing/here"); a.status != http.StatusNotFound ||
		!strings.Contains(a.body, "no such page") {
		t.Errorf("%d", a.status)
	}
	if a := h.browser().get("/static/desk.css"); a.status != http.StatusOK ||
		!strings.HasPrefix(a.header.Get("Content-Type"), "text/css") {
		t.Errorf("%d %v", a.status, a.header)
	}
	if a := h.browser().get("/static/desk.go"); a.status != http.StatusNotFound {
		t.Errorf("%d", a.status)
	}
}

func TestListening(t *testing.T) {
	for l, want := range map[[4]string]string{
		{"127.0.0.1:7411"}: "", {"localhost:0"}: "", {"[::1]:7411"}: "",
		{"0.0.0.0:7411"}: "in clear", {":7411"}: "in clear", {"[::]:7411"}: "in clear", {"192.168.0.5:80"}: "in clear",
		{"desk.example:80"}:        "in clear",
		{"0.0.0.0:7411", "c", "k"}: "", {"0.0.0.0:7411", "", "", "word"}: "", {"127.0.0.1:7411", "c"}: "both",
		{"7411"}: "HOST:PORT", {"localhost:"}: "HOST:PORT",
	} {
		err := Listening{Address: l[0], Cert: l[1], Key: l[2], InClear: l[3] != ""}.Check()
		if (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", l, err)
		}
	}
	if got := strings.Join(Listening{Address: "Desk.example:7411", Hosts: []string{"Other"}}.Names(),
		" "); got != "desk.example other" {
		t.Error(got)
	}
	if got := (Listening{Address: "0.0.0.0:7411"}).Names(); len(got) != 0 {
		t.Error(got)
	}
}

func TestServe(t *testing.T) {
	h := newHouse(t)
	within, cancel := context.WithCancel(ctx)
	at, ended := make(chan string, 1), make(chan error, 1)
	go func() {
		ended <- Listening{Address: "127.0.0.1:0"}.Serve(within, h.Desk, h.Log, func(url string) { at <- url })
	}()
	res, err := http.Get(<-at + "health") //nolint:noctx // a test's
	h.ok(err)
	_ = res.Body.Close()
	cancel()
	if err := <-ended; err != nil {
		t.Error(err)
	}
	if err := (Listening{Address: "0.0.0.0:0"}).Serve(ctx, h.Desk, h.Log, nil); err == nil {
		t.Error("it listens wider in clear")
	}
}
