package desk

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/desk/form"
	"whystone/cmd/whystone/judging"
	"whystone/cmd/whystone/terminal"
	"whystone/cmd/whystone/users"
	"whystone/engine"
	"whystone/engine/diff"
	"whystone/engine/next"
	"whystone/kb"
	"whystone/kb/english"
)

// caseRoutes show one case.
var caseRoutes = []route{
	{"GET", "/cases/{number}", users.Look, of((*asked).kept, showCase), ""},
	{"GET", "/cases/{number}/next", users.Look, of((*asked).explained, showNext), ""},
}

// caseData is a case's page as data: what casebook list, judge and next give of it. Next is left out where a script
// asks for the page, and takes it by itself.
type caseData struct {
	Kept    casebook.Kept  `json:"kept"`
	Verdict *engine.Output `json:"verdict"`
	Next    *next.Advice   `json:"next,omitempty"`
}

// caseView is what a case's page shows.
type caseView struct {
	*kept
	Lines   []line
	Fields  []terminal.Field
	Said    map[string]string // of the stone, the claim and the stake, as it was typed
	Stone   string
	Claims  []string
	Unread  []string
	Enter   *entering
	Next    *next.Advice        // nil: the script asks for it by itself
	Press   map[string]form.Ask // of tests that are one choice: what one press records
	Changed *changed
	History []string
	Photos  []photo
	Differs string // the verdict of today, where another was issued last
	Notes   []note
	May     map[string]bool
	Seen    string // the rules and the version that the page is made of
	Money   string
	refused *refused
}

// refused is a form on the page whose words can't be taken: it is open, as it was sent, and says why.
type refused struct {
	form string
	Says []string
	Sent map[string]string
}

// Again is a form that was refused; nil for one that was not.
func (v *caseView) Again(form string) *refused {
	if v.refused == nil || v.refused.form != form {
		return nil
	}
	return v.refused
}

// note is what is held apart of a case: a note, or particulars of the customer.
type note struct{ What, Text string }

// seenHeader is sent by the desk's own script: of which rules and version the page is that somebody looks at.
const seenHeader = "Whystone-Seen"

func showCase(a *asked, k *kept) (*page, error) { return casePage(a, k, nil) }

// casePage is the page of a case. e is the form that is open on it; nil where the address says which.
func casePage(a *asked, k *kept, e *entering) (*page, error) {
	v := &caseView{kept: k, Said: k.Fields, Claims: k.Rules.Ruleset.Claimable(),
		Lines: k.lines(), Money: k.Rules.Ruleset.Policy.Currency, Seen: fmt.Sprintf("%d.%d", k.Rules.Seq, k.Version),
		May: map[string]bool{"enter": a.who.Role.May(users.Enter), "truth": a.who.Role.May(users.Truth),
			"erase": a.who.Role.May(users.Erase)}}
	p := &page{Template: "case", Title: k.Number, View: v}
	if k.Case != nil {
		v.Fields, v.Stone = k.Told.Fields(), k.Told.Stone()
		if a.Header.Get(partHeader) == "" || a.wantsJSON() {
			v.Next = k.Rules.Prepared.advise(k.key(), k.Told)
			v.Press = k.press(v.Next)
		}
	} else {
		v.Unread = found(k.Wrong)
	}
	if v.Enter = e; e == nil {
		v.Enter = k.entering(a)
	} else if len(e.Wrong) > 0 {
		p.Status = http.StatusUnprocessableEntity
	}
	v.Changed = k.changed(a)
	v.History, v.Photos, v.Differs = k.history(k.Events), k.photos(), k.differs()
	v.Notes = english.Only(k.State.Held, func(h casebook.Held) (note, bool) {
		text, ok := k.Held[h.ID]
		return note{string(h.What), text}, ok && (h.What == casebook.Note || h.What == casebook.Customer)
	})
	if a.wantsJSON() {
		data := caseData{Kept: k.Keep(k.Head, nil), Next: v.Next}
		if k.Case != nil {
			data.Verdict = &k.Told.Output
		}
		p.Data = data
	}
	return p, nil
}

// Named is how the page names a material.
func (v *caseView) Named(id string) string { return nameOf(v.Rules.Ruleset, id) }

// differs is the verdict of today in short, where another one was issued last.
func (k *kept) differs() string {
	last := k.Last()
	if last == nil || k.Case == nil {
		return ""
	}
	o, named, claim := &k.Told.Output, "", ""
	if o.Named != nil {
		named = *o.Named
	}
	if o.Claim != nil {
		claim = o.Claim.Answer
	}
	if o.Verdict == last.Verdict.Verdict && named == last.Named && claim == last.Claim &&
		slices.Equal(o.Nodes, last.Nodes) {
		return ""
	}
	return k.Told.InShort()
}

// nextView is what is shown of what to test next.
type nextView struct {
	*kept
	Next  *next.Advice
	Press map[string]form.Ask
	May   map[string]bool
}

// press are the tests of an advice that are one choice.
func (k *kept) press(advice *next.Advice) map[string]form.Ask {
	out := map[string]form.Ask{}
	for _, t := range advice.Tests {
		s := form.Of(k.Rules.Ruleset, k.Rules.Ruleset.Test(t.Test))
		if !k.Closed && len(s.Asks) == 1 && s.Asks[0].Kind == "choice" && len(s.Instruments) == 0 {
			out[t.Test] = s.Asks[0]
		}
	}
	return out
}

func showNext(a *asked, k *kept) (*page, error) {
	advice := k.Rules.Prepared.advise(k.key(), k.Told)
	v := &nextView{k, advice, k.press(advice), map[string]bool{"enter": a.who.Role.May(users.Enter)}}
	return &page{Template: "next", Title: "What to test next: " + k.Number, View: v, Data: v.Next}, nil
}

// entering is the part of the page in which a reading is entered.
type entering struct {
	Number  string
	Version int
	Test    string      // as it was asked for
	Form    *form.Sheet // of the test that is meant
	Several []*kb.Test  // that may be meant
	None    bool        // nothing is
	All     []*kb.Test  // all tests, to choose from
	Correct *line       // the reading that is corrected
	Did     *line       // what was entered just now
	Sent    url.Values  // what was sent, where it can't be taken
	Wrong   []string    // why not
	First   bool        // it is the first test that is suggested
	Get     bool        // what is entered is supposed, and not kept
	Path    string      // where it is sent; empty: to the case
	Keep    url.Values  // what is supposed already
}

// entering says what the address asks for: a test by what somebody began to write of its name; nothing, for the one
// that is suggested first; a reading to correct.
func (k *kept) entering(a *asked) *entering {
	q := a.URL.Query()
	e := &entering{Number: k.Number, Version: k.Version, Test: strings.TrimSpace(q.Get("test")),
		All: k.Rules.Ruleset.Tests}
	if k.Closed || k.Case == nil {
		return e
	}
	if id, err := strconv.Atoi(q.Get("did")); err == nil && e.Test == "" && !q.Has("test") {
		e.Did = k.line(id)
	}
	if id, err := strconv.Atoi(q.Get("correct")); err == nil {
		if e.Correct = k.line(id); e.Correct != nil {
			e.Test = e.Correct.Test
		}
	}
	if !q.Has("test") && e.Correct == nil {
		return e
	}
	k.choose(e)
	return e
}

func (k *kept) line(id int) *line {
	lines := k.lines()
	if i := slices.IndexFunc(lines, func(l line) bool { return l.ID == id && l.Withdrawn == "" }); i >= 0 {
		return &lines[i]
	}
	return nil
}

// choose finds the test that is meant.
func (k *kept) choose(e *entering) {
	rs := k.Rules.Ruleset
	if e.Test == "" {
		if advice := k.Rules.Prepared.advise(k.key(), k.Told); len(advice.Tests) > 0 {
			e.Test, e.First = advice.Tests[0].Test, true
		}
	}
	switch tests := form.Find(rs, e.Test); {
	case e.Test == "":
	case len(tests) == 0:
		e.None = true
	case len(tests) == 1:
		s := form.Of(rs, tests[0])
		e.Form, e.Test = &s, tests[0].ID
	default:
		e.Several = tests
	}
}

// changed is what became of a page since somebody looked at it.
type changed struct {
	Says        []string // what was done to the case, and to the rules
	Before, Now string   // the verdicts; both are empty where nothing of them changed
}

// changed tells what a page that was made of older rules or an older version would not show.
func (k *kept) changed(a *asked) *changed {
	rules, version, ok := strings.Cut(a.Header.Get(seenHeader), ".")
	seq, err1 := strconv.Atoi(rules)
	at, err2 := strconv.Atoi(version)
	if !ok || err1 != nil || err2 != nil || at < 1 || at > k.Version || seq == k.Rules.Seq && at == k.Version {
		return nil
	}
	c := &changed{}
	old := k.Rules
	if seq != k.Rules.Seq {
		old = a.desk.past.find(func(s *snapshot) bool { return s.Seq == seq })
		if old == nil {
			return &changed{Says: []string{"The rules changed."}}
		}
		if old.Ruleset.Digest != k.Rules.Ruleset.Digest {
			c.Says = append(c.Says, "The ruleset changed: "+kb.ShortDigest(old.Ruleset.Digest)+" became "+
				kb.ShortDigest(k.Rules.Ruleset.Digest)+".")
			c.Says = append(c.Says, judging.Changes(k.Rules.Ruleset, diff.Rulesets(old.Ruleset, k.Rules.Ruleset))...)
		}
	}
	for _, e := range k.Since(at) {
		c.Says = append(c.Says, e.By+": "+k.deed(e))
	}
	if k.Case == nil {
		return c
	}
	if before := k.before(old, at); before != "" && before != k.Told.InShort() {
		c.Before, c.Now = before, k.Told.InShort()
	}
	if len(c.Says) == 0 {
		return nil
	}
	return c
}

// before is the verdict in short on an earlier version, by rules of before; empty where there is none.
func (k *kept) before(old *snapshot, version int) string {
	state, err := k.AtVersion(version)
	if err != nil {
		return ""
	}
	before := &kept{State: state, Rules: old}
	if short := old.Prepared.short.get(before.key()); short != "" {
		return short
	}
	before.read()
	if before.judge(); before.Case == nil {
		return ""
	}
	return before.Told.InShort()
}
