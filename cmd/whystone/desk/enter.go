package desk

import (
	"context"
	"errors"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/catalog"
	"whystone/cmd/whystone/desk/form"
	"whystone/cmd/whystone/judging"
	"whystone/cmd/whystone/users"
	"whystone/engine/phrase"
)

// enterRoutes do something to a case.
var enterRoutes = []route{
	{"POST", "/cases/{number}/readings", users.Enter, of((*asked).found, enterReading), ""},
	{"POST", "/cases/{number}/withdraw", users.Enter, of((*asked).found, withdraw), ""},
	{"POST", "/cases/{number}/stone", users.Enter, of((*asked).found, amend), ""},
	{"POST", "/cases/{number}/issue", users.Enter, of((*asked).found, issue), ""},
	{"POST", "/cases/{number}/close", users.Enter, of((*asked).found, closeCase), ""},
	{"POST", "/cases/{number}/reopen", users.Enter, of((*asked).found, reopen), ""},
	{"POST", "/cases/{number}/notes", users.Enter, of((*asked).found, addNote), ""},
	{"POST", "/cases/{number}/truth", users.Truth, of((*asked).found, recordTruth), ""},
}

// seen is the version of the case that somebody looked at who sent a form.
func (a *asked) seen() int {
	n, err := strconv.Atoi(a.PostForm.Get("seen"))
	if err != nil {
		return 0
	}
	return n
}

func (a *asked) because() string { return strings.Join(strings.Fields(a.PostForm.Get("because")), " ") }

// do does something to a case in the name of who is signed in.
func (a *asked) do(k *kept, seen int, deeds ...casebook.Deed) (*casebook.State, error) {
	s, err := a.desk.Book.Do(a.Context(), a.who.Name, k.State, seen, judging.Readable(k.Rules.Ruleset), deeds...)
	var conflict *casebook.Conflict
	var mistakes *judging.Mistakes
	var refusal *problem
	switch {
	case err == nil:
		a.desk.stir()
		return s, nil
	case errors.Is(err, casebook.ErrTraces): // it is done
		a.desk.stir()
		return nil, err
	case errors.As(err, &mistakes):
		return nil, unfit("Nothing was written.", mistakes.Found)
	case errors.As(err, &conflict), errors.As(err, &refusal), a.Context().Err() != nil, outside(err):
		return nil, err
	}
	return nil, wrong("%s", phrase.Sentence(err.Error()))
}

// outside tells whether what went wrong is no matter of what was asked for.
func outside(err error) bool {
	return slices.ContainsFunc([]error{casebook.ErrBusy, casebook.ErrFull, casebook.ErrUnwritten, casebook.ErrReadOnly,
		casebook.ErrDamaged, context.Canceled}, func(e error) bool { return errors.Is(err, e) })
}

// finish is where a deed leads: back to the case, or to what happened meanwhile.
func (a *asked) finish(k *kept, err error) (*page, error) {
	if conflict, ok := errors.AsType[*casebook.Conflict](err); ok {
		return conflictPage(a, k, conflict), nil
	}
	return &page{To: caseAt(k.Number)}, err
}

// record does something to a case, by the version that somebody saw if the form says one.
func (a *asked) record(k *kept, d casebook.Deed) (*page, error) {
	_, err := a.do(k, a.seen(), d)
	return a.finish(k, err)
}

// again shows the page of a case with a form as it was sent, where what it said can't be taken.
func (a *asked) again(k *kept, which string, err error) (*page, error) {
	bad, ok := errors.AsType[*problem](err)
	if !ok || bad.Status != http.StatusUnprocessableEntity || a.wantsJSON() {
		return nil, err
	}
	sent := map[string]string{}
	for key := range a.PostForm {
		sent[key] = a.PostForm.Get(key)
	}
	k.judge()
	p, err := casePage(a, k, nil)
	if err != nil {
		return nil, err
	}
	p.Status = bad.Status
	p.View.(*caseView).refused = &refused{which, append([]string{bad.Says}, bad.More...), sent}
	return p, nil
}

// clash is what is shown where a case changed since somebody saw it.
type clash struct {
	Number  string
	Since   []string
	Path    string
	Again   url.Values // the form, by the version of now
	Version int
}

func conflictPage(a *asked, k *kept, c *casebook.Conflict) *page {
	x := &clash{Number: c.Number, Path: a.URL.Path, Again: maps.Clone(a.PostForm), Version: c.Version,
		Since: k.history(c.Since)}
	x.Again.Set("seen", strconv.Itoa(c.Version))
	return &page{Template: "clash", Title: "Changed meanwhile", View: x, Status: http.StatusConflict}
}

// enterReading adds a reading, or corrects one.
func enterReading(a *asked, k *kept) (*page, error) {
	if err := k.judged(); err != nil {
		return nil, err
	}
	correct, _ := strconv.Atoi(a.PostForm.Get("correct"))
	again := func(says ...string) (*page, error) {
		e := &entering{Number: k.Number, Version: k.Version, Test: a.PostForm.Get("test"), All: k.Rules.Ruleset.Tests,
			Sent: a.PostForm, Wrong: says, Correct: k.line(correct)}
		k.judge()
		k.choose(e)
		return casePage(a, k, e)
	}
	r, err := form.Read(k.Rules.Ruleset, a.PostForm)
	var bad *form.Wrong
	switch {
	case errors.As(err, &bad):
		return again(bad.Says)
	case err != nil:
		return nil, err
	}
	d, seen := casebook.Add(judging.NameIn(k.Rules.Ruleset, k.State, r.Observable), r.Text), 0
	if correct != 0 {
		if a.because() == "" {
			return again("Say why it is corrected.")
		}
		d, seen = casebook.Correct(correct, r.Text, a.because()), a.seen()
	}
	s, err := a.do(k, seen, d)
	refusal, refused := errors.AsType[*problem](err)
	if refused && refusal.Status == http.StatusUnprocessableEntity && !k.Closed {
		s := form.Of(k.Rules.Ruleset, k.Rules.Ruleset.Test(a.PostForm.Get("test")))
		return again(append([]string{refusal.Says}, found(s.InWords(r.Observable, refusal.list))...)...)
	}
	if err != nil {
		return a.finish(k, err)
	}
	did := s.Version
	if correct != 0 {
		did = correct
	}
	return &page{To: caseAt(k.Number) + "?did=" + strconv.Itoa(did)}, nil
}

func withdraw(a *asked, k *kept) (*page, error) {
	id, err := strconv.Atoi(a.PostForm.Get("reading"))
	switch {
	case err != nil:
		return nil, wrong("It is not said which reading is meant.")
	case a.because() == "":
		return nil, wrong("Say why it is withdrawn.")
	}
	return a.record(k, casebook.Withdraw(id, a.because()))
}

// amend corrects what is said of stone, claim and stake: what differs from what stands there.
func amend(a *asked, k *kept) (*page, error) {
	now, change := sentFields(a), map[string]string{}
	for _, f := range fields {
		if _, asked := a.PostForm[f.key]; asked && plain(now[f.key]) != plain(k.Fields[f.key]) {
			change[f.key] = now[f.key]
		}
	}
	two := twoWays(change["stake"])
	switch {
	case len(change) == 0:
		return &page{To: caseAt(k.Number)}, nil
	case two != nil:
		return a.again(k, "stone", wrong("%s", two[0]))
	case a.because() == "":
		return a.again(k, "stone", wrong("Say why it is corrected."))
	}
	p, err := a.record(k, casebook.Amend(change, a.because()))
	if err != nil {
		return a.again(k, "stone", err)
	}
	return p, nil
}

// plain is a field's text without quotes around it.
func plain(text string) string { return strings.Trim(text, `"'`) }

// issue issues the verdict that somebody saw: by the version and the rules that they looked at.
func issue(a *asked, k *kept) (*page, error) {
	if err := k.judged(); err != nil {
		return nil, err
	}
	k.judge()
	if k.Rules.Ruleset.Digest != a.PostForm.Get("ruleset") {
		return nil, &problem{Status: http.StatusConflict,
			Says: "The rules changed since you saw the verdict. Nothing was issued.",
			More: []string{"It is now: " + k.Told.InShort()}}
	}
	d, _, err := judging.Issue(k.Told, k.State, k.Head, a.desk.Program)
	if err != nil {
		return nil, err
	}
	return a.record(k, d)
}

func closeCase(a *asked, k *kept) (*page, error) { return a.record(k, casebook.Close(a.because())) }

func reopen(a *asked, k *kept) (*page, error) { return a.record(k, casebook.Reopen(a.because())) }

func addNote(a *asked, k *kept) (*page, error) {
	what, text := casebook.What(a.PostForm.Get("what")), strings.TrimSpace(a.PostForm.Get("text"))
	if text == "" || len(text) > mostNote || !utf8.ValidString(text) || what != casebook.Note &&
		what != casebook.Customer {
		return nil, wrong("A note is a text of at most 100 KiB.")
	}
	return a.record(k, casebook.Write(what, text))
}

func recordTruth(a *asked, k *kept) (*page, error) {
	m, err := catalog.FindMaterial(k.Rules.Ruleset, a.PostForm.Get("material"))
	if err != nil {
		return a.again(k, "truth", wrong("%s", phrase.Sentence(err.Error())))
	}
	text := func(key string) string { return strings.Join(strings.Fields(a.PostForm.Get(key)), " ") }
	f := casebook.Finding{Material: m.ID, Laboratory: text("laboratory"), Report: text("report"), Dated: text("dated")}
	p, err := a.record(k, casebook.Know(f))
	if err != nil {
		return a.again(k, "truth", err)
	}
	return p, nil
}
