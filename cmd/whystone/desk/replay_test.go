package desk

import (
	"bytes"
	"context"
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"whystone/cmd/whystone/users"
	"whystone/engine/replay"
	"whystone/kb"
)

// send sends a form with a file.
func (b *browser) send(path, field, name string, content []byte, fields ...string) answer {
	b.t.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	for i := 0; i < len(fields); i += 2 {
		b.ok(form.WriteField(fields[i], fields[i+1]))
	}
	to, err := form.CreateFormFile(field, name)
	b.ok(err)
	_, err = to.Write(content)
	b.ok(err)
	b.ok(form.Close())
	r := b.request(http.MethodPost, path, &body)
	r.Header.Set("Content-Type", form.FormDataContentType())
	r.Header.Set("Origin", b.srv.URL)
	return b.do(r)
}

// sample is an invented archive.
func (h *house) sample(cases int) []byte {
	h.t.Helper()
	var out bytes.Buffer
	h.ok(replay.Sample(ctx, h.now().Prepared.first.Engine, cases, 7, false, &out))
	return out.Bytes()
}

// replayed waits for the end of a replay, and gives its page.
func (b *browser) replayed(path string) answer {
	b.t.Helper()
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		if a := b.get(path); a.status != http.StatusOK || !strings.Contains(text(a.body), "At work:") {
			return a
		}
	}
	b.t.Fatalf("%s does not end", path)
	return answer{}
}

// known takes in a stone that is claimed to be diamond, is read as synthetic moissanite, and is known to be that.
func (h *house) known() string {
	h.t.Helper()
	number := h.diamond()
	h.as(users.Staff).enter(number, "loupe-doubling", "facet_doubling", "choice", "strong")
	if a := h.as(users.Quality).post("/cases/"+number+"/truth", "material", "synthetic moissanite", "laboratory",
		"an invented one"); a.status != http.StatusSeeOther {
		h.t.Fatal(a.status, text(a.body))
	}
	return number
}

// TestReplayOfTheBook: the cases that are looked for are judged again, against what they turned out to be.
func TestReplayOfTheBook(t *testing.T) {
	h := newHouse(t)
	number := h.known()
	h.diamond()
	b := h.as(users.Quality)
	a := b.replayed(b.post("/replays", "q", "truth=synthetic-moissanite").to)
	a.says(t, 200, "1 of 1 cases", "cases of the casebook: truth=synthetic-moissanite", "false acceptances",
		"Reliability curve", "False acceptances by month", "in figures")
	if !strings.Contains(a.body, "<svg") {
		t.Error("no picture")
	}
	b.replayed(b.post("/replays").to).says(t, 200, "2 of 2 cases", "all cases of the casebook")
	b.get("/replays").says(t, 200, "Replay 1", "Replay 2")
	b.post("/replays", "q", "clam=diamond").says(t, 422, `did you mean "claim"?`)
	b.post("/replays", "q", "claim=ruby").says(t, 422, "No case is found")
	b.get("/replays/77").says(t, 404, "no such replay")
	if got := h.state(number).Version; got != 4 {
		t.Errorf("a replay writes to the case: version %d", got)
	}
}

// TestReplayOfAnArchive: an archive that is sent is judged again; one that is none is refused, whatever its name.
func TestReplayOfAnArchive(t *testing.T) {
	h := newHouse(t)
	b := h.as(users.Author)
	archive := h.sample(600)
	b.replayed(b.send("/replays", "archive", `C:\old\sent.jsonl`, archive).to).says(t, 200, "600 of 600 cases",
		"the archive sent.jsonl")
	b.replayed(b.send("/replays", "archive", "no.csv", []byte("case,claim\nA,ruby\n")).to).says(t, 200, "1 of 1 cases")
	b.replayed(b.send("/replays", "archive", "no.jsonl.gz", []byte("no gzip")).to).says(t, 200, "Broken off.",
		"no.jsonl.gz can't be read", "No case was judged.")
	for _, name := range []string{"/etc/passwd", "x.parquet", "x.jsonl.exe"} {
		b.send("/replays", "archive", name, archive).says(t, 422, "is no archive that can be sent")
	}
	if a := b.send("/replays", "archive", "large.jsonl", make([]byte, mostArchive+
		2*mostBody)); a.status != http.StatusRequestEntityTooLarge {
		t.Errorf("%d", a.status)
	}
}

// TestReplayCompares: the rules of now are compared with those that were kept with a verdict, with those that were live
// before, and with their own drafts.
func TestReplayCompares(t *testing.T) {
	h := newHouse(t)
	number := h.known()
	old := h.now().Ruleset.Digest
	if a := h.as(users.Staff).post("/cases/"+number+"/issue", "seen", "4", "ruleset",
		old); a.status != http.StatusSeeOther {
		t.Fatal(a.status, text(a.body))
	}
	b := h.as(users.Author)
	b.post("/replays", "case", number).says(t, 422, "That is the ruleset of now")
	b.post("/replays", "case", "2031-9-A").says(t, 422, "no case")
	h.rule("excludes: [synthetic-moissanite]", "status: active")
	b.get("/replays").says(t, 200, "live before")
	const says = "Cases that change: 1"
	before, after := kb.ShortDigest(old), kb.ShortDigest(h.now().Ruleset.Digest)
	b.replayed(b.post("/replays", "case", number).to).says(t, 200, says,
		"the rules that were kept, "+before+", before; the rules of now, "+after+", after",
		"ruleset "+before+" , before; "+after+" , after")
	b.replayed(b.post("/replays", "against", old).to).says(t, 200, says, "the rules of before, ")
	h.past.list = nil // as after the desk was opened anew
	b.get("/replays").says(t, 200, "by which "+number+" was issued")
	b.replayed(b.post("/replays", "against", old).to).says(t, 200, says, "the rules that were kept, ")
	h.rule("excludes: [synthetic-moissanite]", "status: draft")
	a := b.replayed(b.post("/replays", "against", "draft:a-trial").to)
	a.says(t, 200, says, "Drafts active a-trial", "Changed: 1")
	if !strings.Contains(a.body, `href="/cases/`+number+`"`) {
		t.Error("the case that changes is no link")
	}
	b.replayed(b.post("/replays", "against", "drafts").to).says(t, 200, says)
	b.replayed(b.send("/replays", "archive", "a.jsonl", h.sample(200), "against", "drafts").to).says(t, 200,
		"Cases that change", "The reasoning parts at step")
	b.post("/replays", "against", "draft:no-such").says(t, 422, "can't be made active")
	b.post("/replays", "against", "sha256:0").says(t, 422, "There is no such ruleset any more")
}

// rule writes a rule into the house's own layer, and waits until it is live.
func (h *house) rule(does, status string) {
	h.t.Helper()
	was := h.now().Ruleset.Digest
	h.save(filepath.Join(h.rules, "trial.yaml"),
		"format: 1\nrules:\n  - {rule: a-trial, says: a trial, if: thermal_probe == \"diamond range\", "+does+
			", source: invented, "+status+"}\n")
	for end := time.Now().Add(10 * time.Second); h.now().Ruleset.Digest == was; time.Sleep(20 * time.Millisecond) {
		if time.Now().After(end) {
			h.t.Fatalf("the rule is not live: %v", h.live.Status().Why)
		}
	}
}

// TestOneReplay: one is at work at a time; who comes second is told so, and what they asked for is still in the form.
// Cancelled, it is a report of what was counted. When the desk ends, so does the replay.
func TestOneReplay(t *testing.T) {
	h := newHouse(t)
	h.onReplay = func(ctx context.Context) { <-ctx.Done() }
	b := h.as(users.Author)
	archive := h.sample(2000)
	at := b.send("/replays", "archive", "a.jsonl", archive).to
	b.get(at).says(t, 200, "At work:")
	b.get("/replays").says(t, 200, "Replay 1 is at work: the archive a.jsonl")
	again := h.as(users.Quality).post("/replays", "q", "claim=diamond")
	again.says(t, 422, "No case is found")
	h.diamond()
	again = h.as(users.Quality).post("/replays", "q", "claim=diamond")
	again.says(t, 409, "Replay 1, which author started, is at work.")
	if !strings.Contains(again.body, `value="claim=diamond"`) {
		t.Error("what was asked for is lost")
	}
	if a := b.post(at + "/cancel"); a.to != at {
		t.Errorf("%d", a.status)
	}
	b.replayed(at).says(t, 200, "Broken off.", "Against what the stones turned out to be")
	b.send("/replays", "archive", "a.jsonl", archive)
	done := make(chan struct{})
	go func() { h.end(); _ = h.Close(); close(done) }()
	select {
	case <-done:
	case <-time.After(10 * time.Second):
		t.Error("the desk does not end while a replay is at work")
	}
}

// TestReplayReports: so many are kept, and no more.
func TestReplayReports(t *testing.T) {
	h := newHouse(t)
	h.diamond()
	b := h.as(users.Author)
	for range mostReports + 1 {
		b.replayed(b.post("/replays").to)
	}
	b.get("/replays/1").says(t, 404, "no such replay")
	b.get("/replays/2").says(t, 200, "1 of 1 cases")
}

// TestReplayIsFollowed: a replay is started, its progress is seen without a key being pressed, it is cancelled, started
// again, and its report is read.
func TestReplayIsFollowed(t *testing.T) {
	h := newHouse(t)
	steps := make(chan struct{})
	h.onReplay = func(ctx context.Context) {
		select {
		case <-steps:
		case <-ctx.Done():
		}
	}
	file := filepath.Join(t.TempDir(), "desk.jsonl")
	h.ok(os.WriteFile(file, h.sample(3000), 0o600))
	w := h.open().signIn(users.Quality)
	begin := func() {
		t.Helper()
		w.goTo("/replays")
		w.run(chromedp.SetUploadFiles(`input[name=archive]`, []string{file}))
		w.clickText("Start")
		w.sees("At work:")
	}
	begin()
	w.until(`+document.querySelector("progress").value > 0`, "the first cases")
	first := w.value(`document.querySelector("progress").value`)
	time.Sleep(tellEvery)
	steps <- struct{}{}
	w.until(`+document.querySelector("progress").value > `+first, "more of them")
	w.clickText("Cancel")
	w.sees("Broken off.")
	begin()
	go func() {
		for range 100 {
			steps <- struct{}{}
		}
	}()
	w.sees("3000 of 3000 cases")
	w.sees("Reliability curve")
	w.until(`document.querySelectorAll(".drawn svg").length === 5`, "pictures")
	w.click(`.drawn details summary`)
	w.sees("share given")
	w.looks(func(name string) { w.shot("replay-report-" + name) })
}

// archived has an archive judged again, with a draft, so that there is a report with all of its parts.
func (h *house) archived() {
	h.t.Helper()
	h.rule("excludes: [synthetic-moissanite]", "status: draft")
	b := h.as(users.Author)
	b.replayed(b.send("/replays", "archive", "invented.jsonl", h.sample(60), "against", "draft:a-trial").to)
}
