package desk

import (
	"context"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"

	"whystone/cmd/whystone/users"
)

// chromium is the browser of the tests; without it they are skipped, and fail where all are asked for.
func chromium(t testing.TB) string {
	t.Helper()
	if testing.Short() {
		t.Skip("a browser takes long")
	}
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	if os.Getenv("WHYSTONE_REQUIRE_ALL") == "1" {
		t.Fatal("there is no Chromium, and WHYSTONE_REQUIRE_ALL=1 asks for it (Debian's package chromium)")
	}
	t.Skip("there is no Chromium (Debian's package chromium): the pages are not tried in a browser")
	return ""
}

// window is a browser's window.
type window struct {
	*house
	ctx context.Context //nolint:containedctx // of the browser, for as long as the test
}

// browsers is the one program that all tests use; each has a profile of its own.
var browsers struct {
	once sync.Once
	ctx  context.Context //nolint:containedctx // of the program
	end  []context.CancelFunc
	err  error
}

// TestMain ends the browser, where one was begun.
func TestMain(m *testing.M) {
	status := m.Run()
	for _, end := range slices.Backward(browsers.end) {
		end()
	}
	os.Exit(status)
}

// open opens a window with a profile of its own.
func (h *house) open() *window {
	h.t.Helper()
	path := chromium(h.t)
	browsers.once.Do(func() {
		opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox,
			chromedp.Flag("force-prefers-reduced-motion", true))
		alloc, end := chromedp.NewExecAllocator(context.Background(), opts...)
		ctx, done := chromedp.NewContext(alloc)
		browsers.ctx, browsers.end, browsers.err = ctx, []context.CancelFunc{end, done}, chromedp.Do(ctx)
	})
	h.ok(browsers.err)
	return h.windowOf(browsers.ctx, chromedp.WithNewBrowserContext())
}

// another opens another window with the same profile.
func (w *window) another() *window { return w.windowOf(w.ctx) }

// windowOf opens a window. What the browser complains of there fails the test.
func (h *house) windowOf(parent context.Context, opts ...chromedp.ContextOption) *window {
	h.t.Helper()
	ctx, done := chromedp.NewContext(parent, opts...)
	w := &window{house: h, ctx: ctx}
	h.ok(chromedp.Do(ctx, chromedp.EmulateViewport(1280, 900)))
	var complaints []string
	var mu sync.Mutex
	messages := chromedp.Console(ctx)
	go func() {
		for m, err := range messages {
			if err != nil {
				return
			}
			// a page that refuses is one that is tried
			if strings.Contains(m.Text, "the server responded with a status of") {
				continue
			}
			mu.Lock()
			complaints = append(complaints, m.Text)
			mu.Unlock()
		}
	}()
	h.t.Cleanup(func() {
		mu.Lock()
		defer mu.Unlock()
		if len(complaints) > 0 {
			h.t.Errorf("the browser complains: %q", complaints)
		}
		if h.t.Failed() {
			w.shot("failed-" + strings.ReplaceAll(h.t.Name(), "/", "-"))
		}
		done()
	})
	return w
}

func (w *window) run(steps ...chromedp.Action[chromedp.Void]) {
	w.t.Helper()
	within, cancel := context.WithTimeout(w.ctx, 20*time.Second)
	defer cancel()
	if err := chromedp.Do(within, steps...); err != nil {
		w.t.Fatalf("%s\nat %s", err, w.text())
	}
}

// goTo opens a page of the desk.
func (w *window) goTo(path string) {
	w.t.Helper()
	w.run(chromedp.Navigate(w.srv.URL+path), chromedp.WaitReady("body"))
}

// signIn signs in a user who is called as their role.
func (w *window) signIn(r users.Role) *window {
	w.t.Helper()
	w.goTo("/sign-in")
	w.run(chromedp.SendKeys(`input[name=name]`, string(r)+"\t"+password+"\r"), chromedp.WaitVisible(`header nav`))
	return w
}

// sees waits until the page says something.
func (w *window) sees(says string) {
	w.t.Helper()
	w.until(fmt.Sprintf(`document.body.innerText.includes(%q)`, says), says)
}

// click clicks what a selector finds, as soon as it is there: a page that follows may put another in its place
// meanwhile.
func (w *window) click(selector string) {
	w.t.Helper()
	w.until(fmt.Sprintf(`(() => { const el = document.querySelector(%q); if (el) { el.focus(); el.click(); } return !!el; })()`, selector), selector)
}

// clickText clicks the button that says something.
func (w *window) clickText(says string) {
	w.t.Helper()
	w.until(fmt.Sprintf(`(() => { const el = [...document.querySelectorAll("button")].find(b => b.textContent === %q); if (el) el.click(); return !!el; })()`, says), says)
}

// until waits until an expression of the page is true.
func (w *window) until(js, what string) {
	w.t.Helper()
	end := time.Now().Add(40 * time.Second)
	for {
		ok, err := chromedp.Run(w.ctx, chromedp.Evaluate[bool](js))
		if ok {
			return
		}
		if time.Now().After(end) {
			w.t.Fatalf("in vain for %q (%v):\n%s", what, err, w.text())
		}
		time.Sleep(20 * time.Millisecond)
	}
}

// text is where the window is, and what the page says.
func (w *window) text() string { return w.value(`location.pathname + "\n" + document.body.innerText`) }

// value is that of an expression of the page.
func (w *window) value(js string) string {
	w.t.Helper()
	out, err := chromedp.Run(w.ctx, chromedp.Evaluate[string](`String(`+js+`)`))
	w.ok(err)
	return out
}

// press presses keys, one after another, wherever the focus is, and returns how many they were.
func (w *window) press(keys string) int {
	w.t.Helper()
	w.run(chromedp.KeyEvent(keys))
	return len([]rune(keys))
}

// strike strikes one key as a keyboard does: what the page does of its own accord about it, the browser leaves.
func (w *window) strike(key string) int {
	w.t.Helper()
	for _, kind := range []input.DispatchKeyEventType{input.DispatchKeyEventTypeKeyDown,
		input.DispatchKeyEventTypeKeyUp} {
		p := input.DispatchKeyEventParams{Type: kind, Key: key}
		if kind == input.DispatchKeyEventTypeKeyDown {
			p.Text = key
		}
		_, err := chromedp.Call(w.ctx, input.DispatchKeyEvent, p)
		w.ok(err)
	}
	return 1
}

// dark sets the theme.
func (w *window) dark(yes bool) {
	w.t.Helper()
	theme := map[bool]string{true: "dark", false: "light"}[yes]
	_, err := chromedp.Call(w.ctx, emulation.SetEmulatedMedia,
		emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{
			{Name: "prefers-color-scheme", Value: theme}}}) //nolint:misspell // it is spelt so
	w.ok(err)
}

// shot takes a picture of the whole page, where WHYSTONE_SHOTS names a folder for them.
func (w *window) shot(name string) {
	folder := os.Getenv("WHYSTONE_SHOTS")
	if folder == "" {
		return
	}
	png, err := chromedp.Run(w.ctx, chromedp.FullScreenshot(100))
	if err != nil {
		w.t.Log(err)
		return
	}
	if err := os.WriteFile(filepath.Join(folder, name+".png"), png, 0o600); err != nil {
		w.t.Log(err)
	}
}

// looks are the themes and widths in which pages are looked at: both of each, or where not all is asked for two of the
// four.
func (w *window) looks(do func(name string)) {
	all := os.Getenv("WHYSTONE_REQUIRE_ALL") == "1" || os.Getenv("WHYSTONE_SHOTS") != ""
	for _, dark := range []bool{false, true} {
		for _, width := range []int64{360, 1280} {
			if !all && dark != (width == 360) {
				continue
			}
			w.dark(dark)
			w.run(chromedp.EmulateViewport(width, 900))
			do(fmt.Sprintf("%s-%d", map[bool]string{true: "dark", false: "light"}[dark], width))
		}
	}
}

// longNamed takes in a stone of which everything is as long as a form takes it.
func (h *house) longNamed() string {
	h.t.Helper()
	long := strings.Repeat("Longnamed", 11)
	b := h.as(users.Staff)
	number := strings.TrimPrefix(b.post("/cases", "claim", "laboratory-grown diamond", "stone.carat", "0.88",
		"stone.cut", long, "stone.setting", long, "stone.mounted", "true", "stake", "2600", "called", long, "customer",
		long+long, "note", long+" "+long).to, "/cases/")
	b.enter(number, "thermal-probe", "thermal_probe", "choice", "diamond range", "where", long, "note", long+long)
	b.send("/cases/"+number+"/photographs", "photograph", "a.jpg", photographOf(h.t), "shows", long+long)
	b.post("/cases/"+number+"/issue", "seen", "3", "ruleset", h.now().Ruleset.Digest)
	h.as(users.Quality).post("/cases/"+number+"/truth", "material", "synthetic moissanite", "laboratory", long,
		"report", long)
	return number
}

// withTexts are pages that show what somebody wrote.
var withTexts = []string{"/cases/{number}", "/cases/{number}/told", "/cases/{number}/since", "/cases/{number}/erase",
	"/cases/{number}/what-if", "/cases/{number}/next"}

// TestPictures looks at every page in both themes and widths, with everything that can be opened open: none is wider
// than the window, however long the names. With WHYSTONE_SHOTS=FOLDER the pictures are kept.
func TestPictures(t *testing.T) {
	h := newHouse(t)
	w := h.open().signIn(users.Administrator)
	paths := []string{"/cases", "/replays"} // while there is nothing
	look := func(name, path string) {
		w.goTo(path)
		w.run(chromedp.Evaluate[chromedp.Void](`for (const d of document.querySelectorAll("details")) d.open = true`))
		w.looks(func(how string) {
			if wide := w.value(`document.documentElement.scrollWidth - innerWidth`); wide != "0" &&
				!strings.HasPrefix(wide, "-") {
				t.Errorf("%s is %s px wider than the window (%s)", path, wide, how)
			}
			w.shot(name + "-" + how)
		})
	}
	for _, path := range paths {
		look("empty"+strings.ReplaceAll(path, "/", "-"), path)
	}
	number, long := h.diamond(), h.longNamed()
	h.archived()
	h.as(users.Staff).send("/cases/"+number+"/photographs", "photograph", "a.jpg", photographOf(t), ofThePhotograph...)
	for _, rt := range routes {
		if rt.Method != http.MethodGet || rt.Pattern == "/changes" || rt.Pattern == "/health" {
			continue
		}
		name := strings.Trim(strings.NewReplacer("/", "-", "{", "", "}", "", "$", "").Replace(rt.Pattern), "-")
		look(name, pathOf(t, rt, number))
		if slices.Contains(withTexts, rt.Pattern) {
			look("long-"+name, pathOf(t, rt, long))
		}
	}
	for i, path := range opened(number) {
		look(fmt.Sprintf("opened-%d", i), path)
	}
}
