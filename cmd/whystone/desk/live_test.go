package desk

import (
	"bufio"
	"context"
	"fmt"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/users"
)

// TestHub: who does not take what it is told is told in the end to look at everything, and nobody waits for it.
func TestHub(t *testing.T) {
	var h hub
	slow, done := h.listen()
	quick, gone := h.listen()
	heard := 0
	for i := range 10 * waiting {
		h.tell(change{Kind: "case", Case: fmt.Sprint(i)})
		if x := <-quick; x.Case != fmt.Sprint(i) {
			t.Fatalf("%d: %+v", i, x)
		}
		heard++
	}
	done()
	gone()
	h.tell(change{Kind: "case"})
	all := false
	for len(slow) > 0 {
		x := <-slow
		all = all || x.Kind == "all"
	}
	if !all || heard != 10*waiting || len(h.pages) != 0 {
		t.Errorf("%v, %d, %d", all, heard, len(h.pages))
	}
}

// TestStream: a browser is told what changes, hears that the desk is there, and that its session ended.
func TestStream(t *testing.T) {
	h := newHouse(t)
	h.heartbeat = 50 * time.Millisecond
	b := h.as(users.Author)
	within, cancel := context.WithTimeout(ctx, 20*time.Second)
	defer cancel()
	r, err := http.NewRequestWithContext(within, http.MethodGet, h.srv.URL+"/changes", http.NoBody)
	h.ok(err)
	res, err := b.client.Do(r)
	h.ok(err)
	defer func() { _ = res.Body.Close() }()
	if got := res.Header.Get("Content-Type"); got != "text/event-stream" {
		t.Fatal(got)
	}
	lines := bufio.NewScanner(res.Body)
	until := func(says string) {
		t.Helper()
		for lines.Scan() {
			if strings.Contains(lines.Text(), says) {
				return
			}
		}
		t.Fatalf("in vain for %s: %v", says, lines.Err())
	}
	until("event: beat")
	number := h.diamond()
	until(`data: {"kind":"case","case":"` + number + `"}`)
	until("event: beat")
	h.save(h.rules+"/more.yaml", "format: 1\nrules: [] \n# nothing\n")
	_, err = h.Book.Do(ctx, "elsewhere", &casebook.State{Number: number}, 0, nil, casebook.Add("facet_doubling", `"strong"`))
	h.ok(err)
	until(`"case":"` + number)
	_, err = h.Users.Reset(ctx, "test", "author")
	h.ok(err)
	until("event: signed-out")
	for lines.Scan() {
	}
	if err := lines.Err(); err != nil {
		t.Errorf("the stream does not end: %v", err)
	}
}

// TestStreamLasts: it goes on for longer than a request may take to come.
func TestStreamLasts(t *testing.T) {
	h := newHouse(t)
	h.heartbeat = 50 * time.Millisecond
	token, err := h.Users.SignIn(ctx, "staff", password, "test")
	h.ok(err)
	within, cancel := context.WithTimeout(ctx, 20*time.Second)
	defer cancel()
	at := make(chan string, 1)
	go func() {
		_ = Listening{Address: "127.0.0.1:0", body: 300 * time.Millisecond}.Serve(within, h.Desk, h.Log,
			func(url string) { at <- url })
	}()
	r, err := http.NewRequestWithContext(within, http.MethodGet, <-at+"changes", http.NoBody)
	h.ok(err)
	r.AddCookie(&http.Cookie{Name: cookie, Value: token})
	res, err := http.DefaultClient.Do(r)
	h.ok(err)
	defer func() { _ = res.Body.Close() }()
	beats := 0
	for lines := bufio.NewScanner(res.Body); beats < 20 && lines.Scan(); {
		if lines.Text() == "event: beat" {
			beats++
		}
	}
	if beats < 20 {
		t.Errorf("it ends after %d beats", beats)
	}
}

// TestManyAtOnce: many who read and write one case at once lose nothing.
func TestManyAtOnce(t *testing.T) {
	h := newHouse(t)
	number := h.diamond()
	staff := h.as(users.Staff)
	var wg sync.WaitGroup
	for i := range 8 {
		wg.Go(func() {
			for _, page := range []string{"", "/why", "/next", "/rests", "/what-if?without=2"} {
				if a := staff.get("/cases/" + number + page); a.status != http.StatusOK {
					t.Errorf("%s: %d", page, a.status)
				}
			}
			if a := staff.post("/cases/"+number+"/readings", "test", "hydrostatic-weighing", "observable",
				"specific_gravity", "value", fmt.Sprintf("3.2%d", i)); a.status != http.StatusSeeOther {
				t.Errorf("%d %s", a.status, text(a.body))
			}
		})
	}
	wg.Wait()
	if got := len(h.state(number).Live()); got != 9 {
		t.Errorf("%d readings", got)
	}
}

// TestWhatChanged: who comes with an older version, or older rules, is told what changed; who comes with those of now
// is told nothing.
func TestWhatChanged(t *testing.T) {
	h := newHouse(t)
	number := h.diamond()
	b := h.as(users.Staff)
	changes := func(seen string) string {
		t.Helper()
		r := b.request(http.MethodGet, "/cases/"+number, http.NoBody)
		r.Header.Set(partHeader, "1")
		r.Header.Set(seenHeader, seen)
		body := b.do(r).body
		_, after, _ := strings.Cut(body, `id="changed"`)
		told, _, _ := strings.Cut(after, `<div class="bench">`)
		return text("<x" + told)
	}
	for _, seen := range []string{"1.2", "", "x", "1.99", "1.0", "1.-4", "9.9.9"} {
		if got := changes(seen); got != "" {
			t.Errorf("%q is told %q", seen, got)
		}
	}
	b.enter(number, "loupe-doubling", "facet_doubling", "choice", "strong")
	if got := changes("1.2"); !strings.Contains(got, "staff: reading added: facet doubling strong") ||
		!strings.Contains(got, "Before Narrowed to") || !strings.Contains(got, "Now ") {
		t.Errorf("%q", got)
	}
	if got := changes("7.2"); !strings.Contains(got, "The rules changed.") {
		t.Errorf("%q", got)
	}
}
