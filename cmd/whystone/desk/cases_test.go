package desk

import (
	"html"
	"net/http"
	"slices"
	"strings"
	"testing"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/users"
	"whystone/kb/vocab"
)

// says looks for words in a page.
func (a answer) says(t *testing.T, status int, words ...string) {
	t.Helper()
	page := text(a.body)
	for _, w := range words {
		if a.status != status || !strings.Contains(page, w) {
			t.Errorf("%d, and not %d with %q: %s", a.status, status, w, page)
		}
	}
}

func TestTakeIn(t *testing.T) {
	h := newHouse(t)
	b := h.as(users.Staff)
	b.post("/cases", "claim", "ruby", "stone.carat", "1,02", "customer", "M. Example").says(t, 422, "Weight: a number",
		"Numbers are written with a point: 1.02, not 1,02.")
	b.post("/cases", "claim", "ruby", "stake", "3.000").says(t, 422,
		`Stake: "3.000" can be read as 3000 and as 3.000 with a decimal point.`)
	b.post("/cases", "stone.carat", "-1", "stake", "x").says(t, 422, "Weight must be above zero.",
		"Stake: a number is expected")
	a := b.post("/cases", "claim", ` "ruby" `, "called", "HQ-7", "stone.mounted", "true", "stone.cut", "true", "stake",
		"900", "customer", "M. Example", "note", "late")
	number := strings.TrimPrefix(a.to, "/cases/")
	s := h.state(number)
	for key, want := range map[string]string{"claim": `"\"ruby\""`, "stone.mounted": "true", "stone.cut": `"true"`,
		"stake": "900"} {
		if s.Fields[key] != want {
			t.Errorf("%s is kept as %s", key, s.Fields[key])
		}
	}
	if len(s.Held) != 2 || s.Called != "HQ-7" || !s.Events[0].Verified || s.Events[0].By != "staff" ||
		strings.Contains(s.Form(nil), "Example") {
		t.Errorf("%+v", s)
	}
	b.get("/cases?q=late").says(t, 200, number)
	b.get("/cases?q=claim%3Ddiamond").says(t, 200, "Nothing is found.")
	b.get("/cases?q=clam%3Ddiamond").says(t, 422, `did you mean "claim"?`)
	if a := b.get("/cases?q=" + number); a.to != "/cases/"+number {
		t.Errorf("a number leads to %q", a.to)
	}
	b.get("/cases/2031-77-K").says(t, 404, "no case's number")
	b.get("/cases/"+casebook.Number(2031, 77)).says(t, 404, "the casebook has no case")
	b.get("/cases/nothing%20so").says(t, 404, "the casebook has no case nothing so")
}

// TestSuggestedClaims: under the claim stand words that people claim and that are understood: no ids, and no names that
// only hold the tree together.
func TestSuggestedClaims(t *testing.T) {
	h := newHouse(t)
	page := h.as(users.Staff).get("/take-in").body
	rs := h.now().Ruleset
	_, list, _ := strings.Cut(page, `<datalist id="claims">`)
	list, _, _ = strings.Cut(list, "</datalist>")
	options := strings.Split(list, "<option value=\"")[1:]
	for _, o := range options {
		word, _, _ := strings.Cut(o, "\"")
		word = html.UnescapeString(word)
		m := rs.Node(word)
		isName := func(name string) bool { return vocab.Fold(name) == word }
		if rs.Claim(word) == nil || strings.Contains(word, "(") ||
			m != nil && !isName(m.Name) && !slices.ContainsFunc(m.Also, isName) {
			t.Errorf("%q is suggested", word)
		}
		if m := rs.Claim(word).Node; m.Group && !m.Nameable {
			t.Errorf("%q claims %s, which no verdict names", word, m.ID)
		}
	}
	for _, word := range []string{"moissanite", "paste", "gadolinium gallium garnet"} {
		if !strings.Contains(list, `<option value="`+word+`">`) {
			t.Errorf("%q is not suggested", word)
		}
	}
	if len(options) < 150 {
		t.Errorf("%d words", len(options))
	}
}

// TestWrongReadings: what can't be taken comes back as it was typed, with what is wrong, and nothing is written.
func TestWrongReadings(t *testing.T) {
	h := newHouse(t)
	number := h.diamond()
	b := h.as(users.Staff)
	at := "/cases/" + number + "/readings"
	a := b.post(at, "test", "refractometer", "observable", "ri", "value", "9.5", "note", "my own words")
	a.says(t, 422, "Nothing was written.")
	if !strings.Contains(a.body, `value="9.5"`) || !strings.Contains(a.body, `value="my own words"`) {
		t.Errorf("what was typed is lost: %s", a.body)
	}
	for _, sent := range [][]string{{"value", "1,54"}, {"value", "1,54", "high", "1.55"},
		{"value", "1.55", "uncertainty", "1,54"}} {
		b.post(at, append([]string{"test", "refractometer", "observable", "ri"}, sent...)...).says(t, 422,
			"Numbers are written with a point: 1.54, not 1,54.")
	}
	b.post(at, "test", "thermal-probe", "observable", "thermal_probe", "choice", "lukewarm").says(t, 422,
		"Nothing was written.")
	b.post(at, "test", "thermal-probe", "observable", "thermal_probe", "choice", "unsteady", "correct", "2", "seen",
		"2").says(t, 422, "Say why it is corrected.")
	if got := h.state(number).Version; got != 2 {
		t.Errorf("version %d", got)
	}
}

// TestReadingsInTheWordsOfTheForm: what is wrong with a reading is told by what the form has, not by how a file has it.
func TestReadingsInTheWordsOfTheForm(t *testing.T) {
	h := newHouse(t)
	b := h.as(users.Staff)
	at := "/cases/" + h.diamond() + "/readings"
	for _, x := range []struct{ test, observable, value, want string }{
		{"refractometer", "ri", "2.65", "The instrument reads RI up to 1.81 only. If nothing was seen as far as the " +
			`instrument reads, press "above 1.81". If another test gave it, choose that test.`},
		{"refractometer", "ri", ">1.81", "A value is entered without a sign. If nothing was seen"},
		{"refractometer", "ri", "1.544-1.553", "Of a full turn the low ray and the high ray are entered"},
		{"hydrostatic-weighing", "specific_gravity", "-3", "Specific gravity can't be -3: it lies from 1 to 8."},
		{"hydrostatic-weighing", "specific_gravity", "3.51 and 3.53", "Specific gravity: a number is expected here"},
	} {
		a := b.post(at, "test", x.test, "observable", x.observable, "value", x.value)
		a.says(t, 422, x.want)
		if notice, _, _ := strings.Cut(text(a.body), "Begin to write"); strings.ContainsAny(notice, "{}[]_") {
			t.Errorf("%s: %s", x.value, notice)
		}
	}
}

// TestWordsOfTheCasePage: one entry is one, which of two lists of tests comes first is said, and no instrument is
// spoken of where none can be chosen.
func TestWordsOfTheCasePage(t *testing.T) {
	h := newHouse(t)
	b := h.as(users.Staff)
	fresh := b.post("/cases", "claim", "diamond").to
	b.get(fresh).says(t, 200, "History, 1 entry")
	const order = "What the rules call for comes first"
	b.enter(strings.TrimPrefix(fresh, "/cases/"), "thermal-probe", "thermal_probe", "choice", "diamond range")
	b.get(fresh).says(t, 200, "Do next", order)
	b.get(fresh+"/next").says(t, 200, order)
	named := h.diamond()
	b.enter(named, "loupe-doubling", "facet_doubling", "choice", "strong")
	if page := text(b.get("/cases/" + named).body); strings.Contains(page, "Do next") {
		t.Errorf("nothing is called for: %s", page)
	}
	b.get(fresh+"?test=hydrostatic-weighing").says(t, 200, "History, 2 entries", "Where, note")
}

// TestFormsComeBack: a form that is refused comes back as it was sent, with the reason.
func TestFormsComeBack(t *testing.T) {
	h := newHouse(t)
	number := h.diamond()
	b := h.as(users.Quality)
	for _, x := range []struct {
		path, want string
		sent       []string
	}{
		{"/truth", `No material or group has the name "moisanite"; did you mean "moissanite"? `,
			[]string{"material", "moisanite", "report", "77-1"}},
		{"/truth", `date "yesterday" is no date; write 2031-04-12. `,
			[]string{"material", "glass", "dated", "yesterday"}},
		{"/stone", "Weight: a number is expected here", []string{"stone.carat", "2,1", "because", "weighed again"}},
		{"/stone", "can be read as 3000", []string{"stake", "3.000", "because", "asked again"}},
		{"/stone", "Say why it is corrected. ", []string{"stone.cut", "oval"}},
	} {
		a := b.post("/cases/"+number+x.path, append([]string{"seen", "2"}, x.sent...)...)
		a.says(t, 422, x.want, number)
		for i := 0; i < len(x.sent); i += 2 {
			if !strings.Contains(a.body, `name="`+x.sent[i]+`"`) ||
				!strings.Contains(a.body, `value="`+x.sent[i+1]+`"`) {
				t.Errorf("%s: what was sent as %s is lost", x.path, x.sent[i])
			}
		}
		if strings.Count(a.body, "<details open>") != 1 {
			t.Errorf("%s: the form is not open", x.path)
		}
	}
	if got := h.state(number).Version; got != 2 {
		t.Errorf("version %d", got)
	}
}

// TestClash: whoever decides by an older version is told what was done since, and can do it all the same.
func TestClash(t *testing.T) {
	h := newHouse(t)
	number := h.diamond()
	b := h.as(users.Staff)
	at := "/cases/" + number
	h.as(users.Author).enter(number, "loupe-doubling", "facet_doubling", "choice", "strong")
	for path, fields := range map[string][]string{
		"/withdraw": {"reading", "2", "because", "another stone"},
		"/readings": {"test", "thermal-probe", "observable", "thermal_probe", "choice", "unsteady", "correct", "2",
			"because", "misread"},
		"/stone": {"claim", "ruby", "because", "misheard"},
		"/close": {"because", "done"},
		"/issue": {"ruleset", h.now().Ruleset.Digest},
	} {
		a := b.post(at+path, append([]string{"seen", "2"}, fields...)...)
		a.says(t, 409, "has changed since you looked at it", "author reading added: facet doubling strong")
		if !strings.Contains(a.body, `name="seen" value="3"`) || !strings.Contains(a.body, `value="`+fields[1]+`"`) {
			t.Errorf("%s: what was sent is lost: %s", path, a.body)
		}
	}
	if got := h.state(number).Version; got != 3 {
		t.Errorf("version %d", got)
	}
	b.post(at+"/withdraw", "reading", "2", "because", "another stone", "seen", "3")
	b.post(at+"/withdraw", "reading", "2", "because", "another stone").says(t, 422, "version of the case that was seen")
	b.post(at+"/issue", "seen", "4", "ruleset", "sha256:of another day").says(t, 409,
		"The rules changed since you saw the verdict.")
}

// TestLifeOfACase: corrected, issued, known, closed and opened again, each in the name of who did it.
func TestLifeOfACase(t *testing.T) {
	h := newHouse(t)
	number := h.diamond()
	b, q := h.as(users.Staff), h.as(users.Quality)
	at := "/cases/" + number
	for _, step := range []struct {
		by     *browser
		path   string
		fields []string
		kind   casebook.Kind
	}{
		{b, "/readings", []string{"test", "thermal-probe", "observable", "thermal_probe", "choice",
			"below diamond range", "correct", "2", "seen", "2", "because", "misread"}, casebook.Corrected},
		{b, "/stone", []string{"claim", "diamond", "stone.carat", "0.89", "stone.mounted", "false", "stake", "2600",
			"because", "weighed again", "seen", "3"}, casebook.Changed},
		{b, "/notes", []string{"what", "customer", "text", "M. Example"}, casebook.Noted},
		{b, "/issue", []string{"seen", "5", "ruleset", h.now().Ruleset.Digest}, casebook.Issued},
		{q, "/truth", []string{"material", "cubic zirconia", "laboratory", "an invented one"}, casebook.Truth},
		{b, "/close", []string{"seen", "7"}, casebook.Closed},
		{b, "/reopen", []string{"because", "the owner is back"}, casebook.Reopened},
	} {
		if a := step.by.post(at+step.path, step.fields...); a.status != http.StatusSeeOther {
			t.Fatalf("%s: %d %s", step.path, a.status, text(a.body))
		}
		s := h.state(number)
		last := s.Events[len(s.Events)-1]
		if last.Kind != step.kind || !last.Verified {
			t.Errorf("%s: %+v", step.path, last)
		}
		if step.kind == casebook.Changed && len(last.Data.Fields) != 1 {
			t.Errorf("what stays is corrected too: %v", last.Data.Fields)
		}
		b.get(at).says(t, 200, terminalKind(step.kind))
	}
	b.get(at+"/told").says(t, 200, "Casebook 5-")
	b.get(at+"/since").says(t, 200, "As it was issued", "Today", "Rules of then")
	b.post(at+"/close", "seen", "9")
	b.post(at+"/readings", "test", "loupe-doubling", "observable", "facet_doubling", "choice", "strong").says(t, 422,
		"is closed; reopen it first")
}

// terminalKind is a word of the history by which an event of a kind is known.
func terminalKind(k casebook.Kind) string {
	if k == casebook.Corrected {
		return "reading 2 corrected: below diamond range (misread)"
	}
	if k == casebook.Noted {
		return "customer recorded"
	}
	return string(k)
}

// TestThenAndToday: a verdict that was issued stands beside today's, with what was done since and where the reasons
// part; the case's page says so where today's is another.
func TestThenAndToday(t *testing.T) {
	h := newHouse(t)
	number := h.diamond()
	b := h.as(users.Staff)
	at := "/cases/" + number
	b.get(at+"/since").says(t, 404, "No verdict was issued")
	b.post(at+"/issue", "seen", "2", "ruleset", h.now().Ruleset.Digest)
	if strings.Contains(b.get(at).body, "Today it is another") {
		t.Error("the same verdict is another")
	}
	b.enter(number, "loupe-doubling", "facet_doubling", "choice", "strong")
	b.get(at).says(t, 200, "Issued narrowed", "Today it is another:", "Then and today")
	b.get(at+"/since").says(t, 200, "As it was issued Narrowed to", "It parts at step",
		"staff reading added: facet doubling strong", "No sheet differs.", "still give what was told")
	h.rule("excludes: [synthetic-moissanite]", "status: active")
	b.get(at+"/since").says(t, 200, "rule a-trial added (house/trial.yaml:3")
}

// TestFormsAreBlind: before a reading is in, the form of no test shows a figure of what is claimed: it is the same
// whatever is claimed.
func TestFormsAreBlind(t *testing.T) {
	h := newHouse(t)
	b := h.as(users.Staff)
	claimed := func(claim string) string {
		return strings.TrimPrefix(b.post("/cases", "claim", claim, "stone.carat", "1", "stone.mounted", "false").to,
			"/cases/")
	}
	form := func(number, test string) string {
		t.Helper()
		_, after, ok := strings.Cut(b.get("/cases/"+number+"?test="+test).body, `<section id="enter"`)
		enter, _, _ := strings.Cut(after, "</section>")
		if !ok || !strings.Contains(enter, `class="reading`) {
			t.Fatalf("%s has no form", test)
		}
		return strings.ReplaceAll(enter, number, "N")
	}
	diamond, ruby := claimed("diamond"), claimed("ruby")
	for _, x := range h.now().Ruleset.Tests {
		if a, b := form(diamond, x.ID), form(ruby, x.ID); a != b {
			t.Errorf("%s:\n%s\n%s", x.ID, a, b)
		}
	}
}
