package desk

import (
	"encoding/json"
	"net/http"
	"strings"
	"time"
	"unicode/utf8"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/intake"
	"whystone/cmd/whystone/judging"
	"whystone/cmd/whystone/users"
	"whystone/engine/archive"
	"whystone/kb"
	"whystone/kb/english"
	"whystone/kb/eval"
)

// casesRoutes list cases and take in new ones.
var casesRoutes = []route{
	{"GET", "/{$}", users.Look, func(*asked) (*page, error) { return &page{To: "/cases"}, nil }, ""},
	{"GET", "/cases", users.Look, showCases, "Cases"},
	{"GET", "/take-in", users.Enter, showTakeIn, "Take in a stone"},
	{"POST", "/cases", users.Enter, takeIn, ""},
}

// mostCases is how many cases a page lists.
const mostCases = 50

// listing is what the page of cases shows.
type listing struct {
	Query string
	Days  []day
	More  bool
	Says  string
	Open  bool // nothing was looked for: these are the open cases
}

// day is the cases that were opened on one.
type day struct {
	Says  string
	Cases []row
}

// row is a case of a list, and how the page names what its verdict names.
type row struct {
	casebook.Summary
	Material, TurnedOut string
}

func showCases(a *asked) (*page, error) {
	l := &listing{Query: strings.TrimSpace(a.URL.Query().Get("q"))}
	p := &page{Template: "cases", Title: "Cases", View: l, Data: lines(nil)}
	parts := strings.Fields(l.Query)
	if len(parts) == 0 {
		l.Open, parts = true, []string{"status=open"}
	}
	if number, ok, err := casebook.ParseNumber(l.Query); ok && err == nil {
		return &page{To: caseAt(number)}, nil
	}
	rs := a.desk.now().Ruleset
	q, err := judging.Query(joined(parts), func() (*kb.Ruleset, error) { return rs, nil })
	if err != nil {
		l.Says, p.Status = err.Error(), http.StatusUnprocessableEntity
		return p, nil
	}
	var list []casebook.Summary
	if err := a.desk.Book.Read(a.Context(), func(v casebook.View) (err error) {
		list, l.More, err = casebook.Search(v, q, mostCases)
		return err
	}); err != nil {
		return nil, err
	}
	l.Days = days(rs, list, a.desk.Now())
	p.Data = linesOf(list)
	return p, nil
}

// joined puts together what belongs to one KEY=VALUE: the words after it, up to the next.
func joined(parts []string) []string {
	var out []string
	for _, p := range parts {
		if n := len(out); n > 0 && !strings.Contains(p, "=") && strings.Contains(out[n-1], "=") {
			out[n-1] += " " + p
			continue
		}
		out = append(out, p)
	}
	return out
}

// days parts a list by the day of opening, as it comes: the newest first.
func days(rs *kb.Ruleset, list []casebook.Summary, now time.Time) []day {
	names := map[string]string{now.UTC().Format(time.DateOnly): "Today",
		now.UTC().AddDate(0, 0, -1).Format(time.DateOnly): "Yesterday"}
	var out []day
	for i, s := range list {
		if i == 0 || s.Opened != list[i-1].Opened {
			says := s.Opened
			if names[s.Opened] != "" {
				says = names[s.Opened] + ", " + s.Opened
			}
			out = append(out, day{Says: says})
		}
		last := &out[len(out)-1]
		last.Cases = append(last.Cases, row{s, nameOf(rs, s.Named), nameOf(rs, s.Truth)})
	}
	return out
}

// nameOf is how a sheet names a material; the id where there is no such sheet any more.
func nameOf(rs *kb.Ruleset, id string) string {
	if m := rs.NodeOrWas(id); id != "" && m != nil {
		return m.Says()
	}
	return id
}

// taking is what the page shows on which a stone is taken in.
type taking struct {
	Sent   map[string]string
	Wrong  []string
	Claims []string
	Money  string
}

func showTakeIn(a *asked) (*page, error) { return takeInPage(a, nil, nil), nil }

func takeInPage(a *asked, sent map[string]string, wrong []string) *page {
	rs := a.desk.now().Ruleset
	p := &page{Template: "take-in", Title: "Take in a stone", View: &taking{sent, wrong, rs.Claimable(),
		rs.Policy.Currency}}
	if wrong != nil {
		p.Status = http.StatusUnprocessableEntity
	}
	return p
}

// fields are what may be said of a case besides its readings, as forms ask for it: the key, and whether it is a text.
var fields = []struct {
	key  string
	text bool
}{{"claim", true}, {"stake", false}, {"desk", true}, {"stone.mounted", false}, {"stone.carat", false},
	{"stone.length_mm", false}, {"stone.width_mm", false},
	{"stone.depth_mm", false}, {"stone.cut", true}, {"stone.setting", true}, {"stone.warm", false},
	{"stone.wet", false}, {"stone.coated", false}}

// sentFields are the fields of a form, as somebody would type them.
func sentFields(a *asked) map[string]string {
	out := map[string]string{}
	for _, f := range fields {
		if v := strings.Join(strings.Fields(a.PostForm.Get(f.key)), " "); v != "" {
			out[f.key] = typed(v, f.text)
		}
	}
	return out
}

// twoWays tells of a stake that can be read two ways: it decides how sure a verdict must be, so nothing is guessed.
func twoWays(stake string) []string {
	if says := archive.EitherWay(stake); says != "" {
		return []string{"Stake: " + says + ". Write it without a point, or with two decimals."}
	}
	return nil
}

// typed is a value as somebody would type it: a text in quotes, a number or truth as it is.
func typed(v string, text bool) string {
	if !text && json.Valid([]byte(v)) && !strings.ContainsAny(v, `"[{`) {
		return v
	}
	b, _ := json.Marshal(v) // a text can be
	return string(b)
}

// mostNote bounds a note that a form sends.
const mostNote = 100 << 10

func takeIn(a *asked) (*page, error) {
	sent := map[string]string{}
	for key := range a.PostForm {
		sent[key] = a.PostForm.Get(key)
	}
	snap := a.desk.now()
	opened := casebook.Data{Fields: sentFields(a), Called: strings.Join(strings.Fields(sent["called"]), " ")}
	opened.Fields["taken"] = typed(a.desk.Now().In(snap.Ruleset.Policy.Zone).Format(time.RFC3339), true)
	d := casebook.Deed{Kind: casebook.Opened, Data: opened}
	for _, what := range []casebook.What{casebook.Customer, casebook.Note} {
		text := strings.TrimSpace(sent[string(what)])
		if len(text) > mostNote || !utf8.ValidString(text) {
			return nil, wrong("A note is a text of at most 100 KiB.")
		}
		if text != "" {
			d.Hold = append(d.Hold, casebook.Hold{What: what, Content: []byte(text)})
		}
	}
	if two := twoWays(opened.Fields["stake"]); two != nil {
		return takeInPage(a, sent, two), nil
	}
	tried := &casebook.State{Number: "new", Fields: opened.Fields}
	if it := intake.Of(tried.Node(nil), "the stone", eval.CaseReader(snap.Ruleset)); it.Found.HasErrors() {
		return takeInPage(a, sent, found(it.Found)), nil
	}
	states, err := a.desk.Book.Open(a.Context(), a.who.Name, []casebook.Deed{d})
	if err != nil {
		return nil, err
	}
	a.desk.stir()
	return &page{To: caseAt(states[0].Number)}, nil
}

// lines are objects that are printed one a line.
type lines []any

func linesOf[T any](list []T) lines { return english.Each(list, func(x T) any { return x }) }
