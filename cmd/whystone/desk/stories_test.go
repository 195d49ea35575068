package desk

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/users"
)

// takeIn takes in a stone by keyboard alone, and returns how many keys that took from the page of cases on.
func (w *window) takeIn(claim, carat string) (keys int) {
	w.t.Helper()
	w.goTo("/take-in")
	keys = w.press(claim + kb.Tab + carat + kb.Enter)
	w.until(`location.pathname.startsWith("/cases/") && document.activeElement.id === "test"`, "a case")
	return keys
}

func (w *window) number() string {
	w.t.Helper()
	return strings.TrimPrefix(w.value(`location.pathname`), "/cases/")
}

// choose opens a test by the beginning of its name.
func (w *window) choose(begun string) int {
	w.t.Helper()
	n := w.press(begun + kb.Enter)
	w.until(`!!document.querySelector("#enter form.reading") && document.activeElement.closest("form.reading") !== null`, "the form of "+begun)
	return n
}

// record presses the keys of an outcome and waits until it is in.
func (w *window) record(keys, says string) int {
	w.t.Helper()
	n := 0
	if len(keys) == 1 {
		n = w.strike(keys)
	} else {
		n = w.press(keys)
	}
	w.until(`(document.querySelector(".did")||{innerText:""}).innerText.includes(`+quote(says)+
		`) && document.activeElement.id === "test"`, "recorded: "+says)
	return n
}

func quote(s string) string { return `"` + strings.ReplaceAll(s, `"`, `\"`) + `"` }

// TestRoutineStone: claim, weight, probe, doubling and weighing by keyboard alone, with the count of keys. It is in
// under a minute for a person who presses two keys a second.
func TestRoutineStone(t *testing.T) {
	w := newHouse(t).open().signIn(users.Staff)
	keys := w.takeIn("diamond", "0.88")
	keys += w.choose("therm") + w.record("1", "diamond range")
	keys += w.choose("dou") + w.record("3", "strong")
	keys += w.choose("hydro") + w.record("3.22"+kb.Enter, "3.22")
	w.sees("Identified: synthetic moissanite.")
	w.sees(`The readings rule out the claim "diamond"`)
	t.Logf("%d keys", keys)
	if keys > 60 {
		t.Errorf("a routine stone takes %d keys", keys)
	}
}

// TestTypingAhead: who types on while an outcome is on its way loses no key.
func TestTypingAhead(t *testing.T) {
	w := newHouse(t).open().signIn(users.Staff)
	w.takeIn("diamond", "0.88")
	w.choose("therm")
	for _, key := range []string{"1", "d", "o", "u"} {
		w.strike(key)
	}
	w.press(kb.Enter)
	w.until(`!!document.querySelector("#enter button[value=strong]")`, "the next test")
	w.sees("diamond range")
}

// TestLateLook: a page that was asked for before a test was chosen, and comes after it, takes nothing away.
func TestLateLook(t *testing.T) {
	h := newHouse(t)
	w := h.open().signIn(users.Staff)
	w.takeIn("diamond", "0.88")
	w.run(chromedp.Evaluate[chromedp.Void](`(() => {
		const real = window.fetch;
		window.fetch = async (...asked) => {
			const answer = await real(...asked);
			if (String(asked[0]) !== location.href || window.late) return answer;
			window.late = new Promise((go) => { window.letGo = go; });
			await window.late;
			return answer;
		};
	})()`))
	h.as(users.Staff).enter(w.number(), "loupe-doubling", "facet_doubling", "choice", "strong")
	w.until(`!!window.letGo`, "a look at what changed")
	w.choose("therm")
	w.run(chromedp.Evaluate[chromedp.Void](`window.letGo()`))
	w.sees("History, 2 entries")
	w.until(`document.activeElement.matches("#enter button[data-key='1']")`, "the focus where it was")
	w.record("1", "diamond range")
}

// TestLookWithoutAnAnswer: a page that never comes is given up, and the next is asked for.
func TestLookWithoutAnAnswer(t *testing.T) {
	h := newHouse(t)
	w := h.open().signIn(users.Staff)
	w.takeIn("diamond", "0.88")
	w.run(chromedp.Evaluate[chromedp.Void](`(() => {
		const real = window.fetch;
		window.fetch = (url, options) => {
			if (window.hangs || !options.signal) return real(url, options); // of looks alone the first
			window.hangs = options.signal;
			return new Promise((_, no) => options.signal.addEventListener("abort", () => no(options.signal.reason)));
		};
		AbortSignal.timeout = (ms) => {
			const by = new AbortController();
			setTimeout(() => { window.limit = ms; by.abort(); }, window.hangs ? ms : 200);
			return by.signal;
		};
	})()`))
	h.as(users.Staff).enter(w.number(), "loupe-doubling", "facet_doubling", "choice", "strong")
	w.until(`window.limit > 0 && document.querySelector("#connection").innerText !== ""`, "that nothing is known")
	h.as(users.Staff).enter(w.number(), "thermal-probe", "thermal_probe", "choice", "diamond range")
	w.sees("History, 3 entries")
}

// TestQuickerThanTheScript: who chooses a test before the script is there is led to it by the browser, and the next
// key is an outcome.
func TestQuickerThanTheScript(t *testing.T) {
	h := newHouse(t)
	w := h.open().signIn(users.Staff)
	w.goTo("/cases/" + h.diamond() + "?test=therm#enter")
	w.until(`document.activeElement.matches("#enter button[data-key='1']")`, "the focus on the outcomes")
	w.record("1", "diamond range")
}

// TestSuggestions: a stone is taken in and brought to a verdict by doing what is suggested first, each with one key.
func TestSuggestions(t *testing.T) {
	w := newHouse(t).open().signIn(users.Staff)
	w.takeIn("diamond", "0.88")
	outcomes := map[string]string{"thermal-probe": "diamond range", "loupe-doubling": "strong",
		"conduction-probe": "conducts", "refractometer": "above", "hydrostatic-weighing": "3.22",
		"reflectivity-meter": "20.5", "spot-reading": "above", "unaided-eye": "colourless", "optic-figure": "uniaxial",
		"polariscope": "blinks four times", "weight-against-size": "3.2"}
	for range 8 {
		if strings.Contains(w.text(), "Identified: synthetic moissanite") {
			break
		}
		w.press(kb.Enter)
		w.until(`!!document.querySelector("#enter form.reading")`, "the first suggestion")
		test := w.value(`document.querySelector("#enter input[name=test][type=hidden]").value`)
		out, ok := outcomes[test]
		if !ok {
			t.Fatalf("nobody thought of %s being suggested:\n%s", test, w.text())
		}
		switch {
		case w.value(`[...document.querySelectorAll("#enter .buttons button")].some(b => b.value === `+quote(out)+
			`)`) == "true":
			w.run(chromedp.Evaluate[chromedp.Void](`document.querySelector('#enter .buttons button[value=` +
				quote(out) + `]').click()`))
		case out == "above":
			w.run(chromedp.Evaluate[chromedp.Void](`document.querySelector('#enter button[value=above]').click()`))
		default:
			w.run(chromedp.Evaluate[chromedp.Void](`(() => { const i = document.querySelector("#enter input[name=value]"); i.focus(); i.value = ` + quote(out) + `; i.form.querySelector("button:not([disabled])").click(); })()`))
		}
		w.until(`!!document.querySelector(".did")`, "an outcome")
	}
	w.sees("Identified: synthetic moissanite.")
}

// TestOnePress: a suggested test that is one choice has its outcomes beside it, and one press records one.
func TestOnePress(t *testing.T) {
	h := newHouse(t)
	number := h.diamond()
	w := h.open().signIn(users.Staff)
	w.goTo("/cases/" + number)
	w.click(`#next form.press button[value=strong]`)
	w.sees("The readings rule out the claim")
	w.until(`document.querySelector(".did").innerText.includes("facet doubling: strong") && document.activeElement.id === "test"`, "what was recorded")
	if got := len(h.state(number).Live()); got != 2 {
		t.Errorf("%d readings", got)
	}
}

// TestUndo: an outcome that was mistyped is taken back by one key, with the reason, and stays in the history.
func TestUndo(t *testing.T) {
	h := newHouse(t)
	w := h.open().signIn(users.Staff)
	w.takeIn("diamond", "0.88")
	w.choose("therm")
	w.record("2", "below")
	if n := w.press(kb.Backspace); n != 1 {
		t.Error("more than one key")
	}
	w.sees("withdrawn: mistyped, taken back at once")
	w.until(`document.activeElement.id === "test"`, "the next test")
	s := h.state(w.number())
	if len(s.Live()) != 0 || s.Version != 3 || s.Events[2].By != "staff" || !s.Events[2].Verified {
		t.Errorf("%+v", s.Events[2])
	}
	w.press("x" + kb.Backspace + kb.Backspace) // there is nothing more to take back
	time.Sleep(200 * time.Millisecond)
	if got := h.state(w.number()).Version; got != 3 {
		t.Errorf("version %d", got)
	}
}

// state is a case of the house as it is.
func (h *house) state(number string) (s *casebook.State) {
	h.t.Helper()
	h.ok(h.Book.Read(ctx, func(v casebook.View) (err error) {
		s, err = casebook.Load(v, number)
		return err
	}))
	return s
}

func TestWhyAndWhyNot(t *testing.T) {
	h := newHouse(t)
	number := h.diamond()
	w := h.open().signIn(users.Staff)
	w.goTo("/cases/" + number)
	w.click(`a[href$="/why"]`)
	w.sees("The reasons")
	w.sees("thermal probe diamond range")
	w.until(`document.querySelectorAll("ul.tree details").length >= 2`, "a tree")
	w.click(`ul.tree > li > details > summary`)
	w.until(`!document.querySelector("ul.tree > li > details").open`, "a closed branch")
	w.click(`a[href$="/why-not"]`)
	w.until(`!!document.activeElement && document.activeElement.name === "material"`, "the field")
	w.press("ruby" + kb.Enter)
	w.sees("Ruled out")
	w.goTo("/cases/" + number + "/why-not?material=rubyy")
	w.sees("no material or group has the name")
}

// TestRulesAreEdited: an edit to a rule file changes the verdict on the open page, which says what and why; a mistake
// brings the banner with its place, and its mending takes it away. What is being typed stays.
func TestRulesAreEdited(t *testing.T) {
	h := newHouse(t)
	number := h.diamond()
	w := h.open().signIn(users.Staff)
	w.goTo("/cases/" + number)
	w.sees("At an evening sale")
	w.press("half wri")
	file := filepath.Join(h.rules, "rules.yaml")
	was, err := os.ReadFile(file)
	h.ok(err)
	edited := strings.Replace(string(was), "calls_for: [loupe-doubling]",
		"calls_for: [loupe-doubling]\n    excludes: {materials: [synthetic-moissanite, diamond-topped-doublet]}\n    "+
			"family: double refraction", 1)
	begun := time.Now()
	h.save(file, edited)
	w.sees("The ruleset changed")
	t.Logf("live after %s", time.Since(begun).Round(10*time.Millisecond))
	w.sees("rule quay-evening-sale-loupe-first changed (house/rules.yaml:15")
	w.sees("Before")
	if got := w.value(`document.querySelector("#test").value`); got != "half wri" {
		t.Errorf("what was typed became %q", got)
	}
	h.save(file, strings.Replace(edited, "not seen(inclusions)", "not seen(inclusion)", 1))
	w.sees("The saved rules can't be used.")
	w.sees("house/rules.yaml:17:")
	w.sees(`Did you mean "inclusions"?`)
	w.goTo("/cases")
	w.sees("house/rules.yaml:17:")
	h.save(file, string(was))
	w.until(`!document.body.innerText.includes("can't be used")`, "no banner")
	w.goTo("/cases/" + number)
	w.sees("At an evening sale")
}

// save saves a file as editors do.
func (h *house) save(file, text string) {
	h.t.Helper()
	h.ok(os.WriteFile(file+".new", []byte(text), 0o600))
	h.ok(os.Rename(file+".new", file))
}

// TestTwoUsers: what a colleague does is on the page at once, and whoever decides by an older version is told so, and
// loses nothing.
func TestTwoUsers(t *testing.T) {
	h := newHouse(t)
	number := h.diamond()
	a, b := h.open().signIn(users.Staff), h.open().signIn(users.Author)
	a.goTo("/cases/" + number)
	b.goTo("/cases/" + number)
	b.sees("diamond range")
	// While b writes why a reading is withdrawn, a enters another.
	b.click(`#readings details summary`)
	b.click(`#readings input[name=because]`)
	b.press("another stone")
	a.click(`#test`)
	a.choose("dou")
	a.record("3", "strong")
	b.sees("staff: reading added: facet doubling strong")
	b.sees("Now")
	b.press(kb.Enter)
	b.sees("Changed meanwhile")
	if got := len(h.state(number).Live()); got != 2 {
		t.Errorf("%d readings are left", got)
	}
	b.clickText("Do it all the same")
	b.sees("withdrawn: another stone")
	a.sees("author: reading 2 withdrawn (another stone)")
	s := h.state(number)
	if len(s.Readings) != 2 || len(s.Live()) != 1 || s.Live()[0].Observable != "facet_doubling" {
		t.Errorf("%+v", s.Readings)
	}
}

// TestOtherProcess: what another program writes to the casebook is on the page within a second.
func TestOtherProcess(t *testing.T) {
	h := newHouse(t)
	number := h.diamond()
	w := h.open().signIn(users.Staff)
	w.goTo("/cases/" + number)
	w.sees("diamond range")
	time.Sleep(time.Second)
	begun := time.Now()
	_, err := h.Book.Do(ctx, "another program", &casebook.State{Number: number}, 0, nil,
		casebook.Add("facet_doubling", `"strong"`))
	h.ok(err)
	w.until(`document.querySelector("#readings").innerText.includes("another program")`, "its reading")
	if took := time.Since(begun); took > 2*time.Second { // one, and another for a busy machine
		t.Errorf("it took %s", took)
	} else {
		t.Logf("it took %s", took.Round(10*time.Millisecond))
	}
}

func TestWhatIf(t *testing.T) {
	h := newHouse(t)
	number := h.diamond()
	w := h.open().signIn(users.Staff)
	w.goTo("/cases/" + number + "/what-if")
	w.run(chromedp.SendKeys(`input[name=test]`, "doubled"+kb.Enter))
	w.click(`button[value=strong]`)
	w.until(`location.search.includes("with=") && document.readyState === "complete"`, "a supposition")
	w.sees("facet doubling: strong")
	w.sees("The readings rule out the claim")
	w.click(`input[name=without]`)
	w.clickText("Judge it so")
	w.until(`location.search.includes("without=2") && location.search.includes("with=")`, "both")
	if got := h.state(number).Version; got != 2 {
		t.Errorf("the case is at version %d", got)
	}
}

func TestPrint(t *testing.T) {
	h := newHouse(t)
	number := h.diamond()
	w := h.open().signIn(users.Staff)
	w.goTo("/cases/" + number)
	w.click(`a[href$="/report"]`)
	w.sees("What was read")
	if got := w.value(`getComputedStyle(document.querySelector("dl")).display`); got != "grid" {
		t.Errorf("the style of the report is not taken: %s", got)
	}
	pdf, err := chromedp.Run(w.ctx, chromedp.PrintToPDF())
	h.ok(err)
	if !strings.HasPrefix(string(pdf), "%PDF") || len(pdf) < 10000 {
		t.Errorf("%d bytes are printed", len(pdf))
	}
}

func TestSignedOut(t *testing.T) {
	h := newHouse(t)
	h.heartbeat = 100 * time.Millisecond
	w := h.open()
	w.goTo("/cases")
	w.run(chromedp.SendKeys(`input[name=name]`, "staff\twrong"+kb.Enter))
	w.sees("That name and password don't fit.")
	w.run(chromedp.SendKeys(`input[name=password]`, password+kb.Enter))
	w.sees("No case is open.")
	w.goTo("/cases/2031-99-K")
	w.sees("Not done")
	number := h.diamond()
	w.goTo("/cases/" + number)
	w.press("half wri")
	h.ok(h.Users.SetRole(ctx, "test", "quality", users.Staff))
	_, err := h.Users.Reset(ctx, "test", "staff")
	h.ok(err)
	w.sees("You are signed out.")
	if got := w.value(`document.querySelector("#test").value`); got != "half wri" {
		t.Errorf("what was typed became %q", got)
	}
	w.goTo("/cases")
	w.until(`location.pathname === "/sign-in"`, "the sign-in page")
}

func TestForbidden(t *testing.T) {
	h := newHouse(t)
	number := h.diamond()
	b := h.as(users.Staff)
	a := b.post("/cases/"+number+"/truth", "material", "glass")
	if a.status != 403 || !strings.Contains(text(a.body),
		"Your role, staff, does not let you record what a stone turned out to be.") {
		t.Errorf("%d %s", a.status, text(a.body))
	}
}

// TestOneStream: of two windows of a browser one follows, and both hear.
func TestOneStream(t *testing.T) {
	h := newHouse(t)
	number := h.diamond()
	w := h.open().signIn(users.Staff)
	w.goTo("/cases/" + number)
	v := w.another()
	v.goTo("/cases/" + number)
	v.sees("diamond range")
	time.Sleep(300 * time.Millisecond)
	if got := h.streams(); got != 1 {
		t.Errorf("%d streams", got)
	}
	h.as(users.Author).enter(number, "loupe-doubling", "facet_doubling", "choice", "strong")
	w.sees("author: reading added")
	v.sees("author: reading added")
}

func (h *house) streams() int {
	h.hub.mu.Lock()
	defer h.hub.mu.Unlock()
	return len(h.hub.pages)
}

// TestWithoutScript: with scripts off a stone is taken in, read and judged all the same.
func TestWithoutScript(t *testing.T) {
	h := newHouse(t)
	b := h.as(users.Staff)
	number := h.diamond()
	a := b.get("/cases/" + number)
	for _, says := range []string{"Narrowed to", "What to test next", "Enter a reading"} {
		if !strings.Contains(text(a.body), says) {
			t.Errorf("the page does not say %q", says)
		}
	}
	if a := b.get("/cases/" + number + "?test="); !strings.Contains(a.body, "suggested first") ||
		!strings.Contains(a.body, `name="value"`) && !strings.Contains(a.body, `name="choice"`) {
		t.Error("the first suggestion does not open")
	}
	if a := b.get("/cases/" + number + "?test=doub"); !strings.Contains(a.body, `value="strong"`) {
		t.Error("a test does not open by the beginning of its name")
	}
	a = b.enter(number, "loupe-doubling", "facet_doubling", "choice", "strong")
	if a.to != "/cases/"+number+"?did=3" {
		t.Error(a.to)
	}
	if a := b.get("/cases/" + number + "?did=3"); !strings.Contains(text(a.body), "Recorded facet doubling: strong") {
		t.Errorf("%s", text(a.body))
	}
	if a := b.post("/cases/"+number+"/withdraw", "reading", "3", "seen", "3", "because", "mistyped"); a.status != 303 {
		t.Errorf("%d %s", a.status, text(a.body))
	}
}

// TestTakeInStandsLevel: the claim stands level with the weight beside it, and close above it on a narrow screen.
func TestTakeInStandsLevel(t *testing.T) {
	w := newHouse(t).open().signIn(users.Staff)
	w.goTo("/take-in")
	const claim, weight = `document.querySelector("input[name=claim]").getBoundingClientRect()`,
		`document.querySelector("input[name='stone.carat']").closest("label").getBoundingClientRect()`
	if off := w.value(`Math.round(` + claim + `.bottom - ` + weight + `.bottom)`); off != "0" {
		t.Errorf("the claim stands %s px off the weight beside it", off)
	}
	w.run(chromedp.EmulateViewport(390, 900))
	if near := w.value(weight + `.top - ` + claim + `.bottom < 16`); near != "true" {
		t.Errorf("there is a gap below the claim")
	}
}
