package main

import (
	"bytes"
	"context"
	"crypto/rand"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/casebook/sqlite"
	"whystone/cmd/whystone/desk"
	"whystone/cmd/whystone/users"
	"whystone/cmd/whystone/users/memory"
	"whystone/kb/kbtest"
	"whystone/kb/load"
	"whystone/rulesets"
)

// deskData are pages, and the command whose --json gives what they show. NUMBER is the case's.
var deskData = []struct{ path, command string }{
	{"/cases", "casebook list"},
	{"/cases?q=claim%3Ddiamond", "casebook search claim=diamond"},
	{"/cases?q=status%3Dclosed", "casebook search status=closed"},
	{"/cases/NUMBER/next", "next case:NUMBER"},
	{"/cases/NUMBER/why", "why case:NUMBER"},
	{"/cases/NUMBER/why-not?material=cubic+zirconia", "why case:NUMBER --not cubic-zirconia"},
	{"/cases/NUMBER/rests", "why case:NUMBER --rests"},
	{"/cases/NUMBER/change", "why case:NUMBER --change"},
	{"/cases/NUMBER/repeat", "why case:NUMBER --repeat"},
	{"/cases/NUMBER/waiting", "why case:NUMBER --waiting"},
}

// counter is a desk over a casebook in a folder, and a browser in which somebody is signed in.
type counter struct {
	t      *testing.T
	folder string
	now    func() time.Time
	url    string
	client *http.Client
}

func newCounter(t *testing.T) *counter {
	t.Helper()
	c := &counter{t: t, folder: t.TempDir(), now: func() time.Time {
		return time.Date(2031, 4, 12, 9, 0, 0, 0,
			time.UTC)
	}}
	c.command("casebook open " + filepath.Join(kbtest.Root(t), "testdata/demo/01-probe-says-diamond.yaml"))
	c.command("casebook open " + filepath.Join(kbtest.Root(t), "testdata/demo/05-index-against-weight.yaml"))
	store, err := sqlite.Open(t.Context(), c.folder, false)
	if err != nil {
		t.Fatal(err)
	}
	register := users.New(memory.New(), c.now, rand.Reader, users.Cost{Passes: 1, Memory: 64, Threads: 1})
	word, err := register.SetUp(t.Context(), "Harrow Quay (invented)", "anna")
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	d, found := desk.Open(ctx, desk.Options{Users: register, House: "Harrow Quay (invented)", Now: c.now,
		Rules: desk.Rules{Layers: func() ([]load.Layer, error) {
			return []load.Layer{{Name: rulesets.DiamondDesk, FS: rulesets.FS(rulesets.DiamondDesk)}}, nil
		}},
		Book: &casebook.Book{Store: store, Now: c.now, Random: rand.Reader, Verified: true}})
	if d == nil {
		t.Fatal(found)
	}
	srv := httptest.NewServer(d)
	t.Cleanup(func() { srv.Close(); cancel(); _ = d.Close(); _ = store.Close() })
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	c.url, c.client = srv.URL, &http.Client{Jar: jar, CheckRedirect: func(*http.Request,
		[]*http.Request) error {
		return http.ErrUseLastResponse
	}}
	c.post("/sign-in", "name", "anna", "password", word)
	c.post("/password", "password", "three grey geese fly")
	return c
}

// command runs a command on the casebook of the folder, and gives what it writes as JSON.
func (c *counter) command(line string) string {
	c.t.Helper()
	var out, wrong bytes.Buffer
	args := append(strings.Fields(line), "--json", "--book", c.folder)
	if status := run(context.Background(), args, strings.NewReader(""), &out, &wrong,
		[]string{"USER=anna", "HOME=" + c.folder}, c.now); status > 1 {
		c.t.Fatalf("%s: %d %s", line, status, wrong.String())
	}
	return out.String()
}

func (c *counter) get(path string) string {
	c.t.Helper()
	r, err := http.NewRequestWithContext(c.t.Context(), http.MethodGet, c.url+path, http.NoBody)
	if err != nil {
		c.t.Fatal(err)
	}
	r.Header.Set("Accept", "application/json")
	return c.answer(r, http.StatusOK)
}

func (c *counter) post(path string, fields ...string) {
	c.t.Helper()
	form := url.Values{}
	for i := 0; i < len(fields); i += 2 {
		form.Add(fields[i], fields[i+1])
	}
	r, err := http.NewRequestWithContext(c.t.Context(), http.MethodPost, c.url+path, strings.NewReader(form.Encode()))
	if err != nil {
		c.t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	c.answer(r, http.StatusSeeOther)
}

func (c *counter) answer(r *http.Request, want int) string {
	c.t.Helper()
	res, err := c.client.Do(r)
	if err != nil {
		c.t.Fatal(err)
	}
	defer func() { _ = res.Body.Close() }()
	body, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != want {
		c.t.Fatalf("%s %s: %d %s", r.Method, r.URL.Path, res.StatusCode, body)
	}
	return string(body)
}

// TestPagesGiveWhatCommandsGive: asked for as JSON, a page gives byte for byte what a command's --json gives.
func TestPagesGiveWhatCommandsGive(t *testing.T) {
	c := newCounter(t)
	for _, number := range []string{casebook.Number(2031, 1), casebook.Number(2031, 2)} {
		for _, x := range deskData {
			page, command := c.get(strings.ReplaceAll(x.path, "NUMBER", number)),
				c.command(strings.ReplaceAll(x.command, "NUMBER", number))
			if d := cmp.Diff(command, page); d != "" {
				t.Errorf("%s and %s: %s", x.path, x.command, d)
			}
		}
		// A case's page is three commands'.
		got := c.get("/cases/" + number)
		want := `{"kept":` + strings.TrimSpace(c.command("casebook list "+number)) + `,"verdict":` +
			strings.TrimSpace(c.command("judge case:"+number)) +
			`,"next":` + strings.TrimSpace(c.command("next case:"+number)) + "}\n"
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("the case: %s", d)
		}
		// Nothing is supposed that the same case as a file does not come to.
		was := c.command("judge case:" + number)
		if supposed := c.get("/cases/" + number + "/what-if?with=uv_long%3D%22inert%22"); supposed == was ||
			!strings.Contains(supposed, `"verdict"`) {
			t.Errorf("what if: %s", supposed)
		}
		if is := c.command("judge case:" + number); is != was {
			t.Error("what was supposed is kept")
		}
	}
}

// TestReplayOnAPage: the report of a replay is, as JSON, byte for byte what the command's --json gives.
func TestReplayOnAPage(t *testing.T) {
	c := newCounter(t)
	c.command("casebook truth " + casebook.Number(2031, 1) + " synthetic-moissanite")
	for i, x := range []struct {
		form    []string
		command string
	}{
		{[]string{}, "replay case:?"},
		{[]string{"q", "truth=synthetic-moissanite"}, "replay case:?truth=synthetic-moissanite"},
	} {
		c.post("/replays", x.form...)
		path := "/replays/" + strconv.Itoa(i+1)
		page := ""
		for end := time.Now().Add(20 * time.Second); !strings.HasPrefix(page, "{") &&
			time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
			page = c.get(path)
		}
		if d := cmp.Diff(c.command(x.command), page); d != "" {
			t.Errorf("%s: %s", x.command, d)
		}
	}
}

// TestIssuedOnAPage: a verdict that is issued on a page is told by the command as it was told, byte for byte.
func TestIssuedOnAPage(t *testing.T) {
	c := newCounter(t)
	number := casebook.Number(2031, 1)
	kept := c.command("judge case:" + number)
	_, digest, _ := strings.Cut(kept, "sha256:")
	_, version, _ := strings.Cut(c.command("casebook list "+number), `"version":`)
	c.post("/cases/"+number+"/issue", "seen", version[:strings.IndexByte(version, ',')], "ruleset",
		"sha256:"+digest[:strings.IndexByte(digest, '"')])
	if d := cmp.Diff(c.command("why case:"+number), c.get("/cases/"+number+"/told")); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff(c.command("why --now case:"+number), c.get("/cases/"+number+"/since")); d != "" {
		t.Error(d)
	}
	if events := c.command("casebook list " + number); !strings.Contains(events, `"kind":"verdict issued"`) ||
		!strings.Contains(events, `"verified":true`) {
		t.Error(events)
	}
}
