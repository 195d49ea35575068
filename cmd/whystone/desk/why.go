package desk

import (
	"encoding/json"
	"errors"
	"strings"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/catalog"
	"whystone/cmd/whystone/judging"
	"whystone/cmd/whystone/terminal"
	"whystone/cmd/whystone/users"
	"whystone/engine"
	"whystone/engine/answers"
	"whystone/engine/phrase"
	"whystone/kb"
)

// whyRoutes answer questions about a verdict.
var whyRoutes = []route{
	{"GET", "/cases/{number}/why", users.Look, showWhy, ""},
	{"GET", "/cases/{number}/why-not", users.Look, showWhyNot, ""},
	{"GET", "/cases/{number}/rests", users.Look, showRests, ""},
	{"GET", "/cases/{number}/change", users.Look, showChange, ""},
	{"GET", "/cases/{number}/repeat", users.Look, showRepeat, ""},
	{"GET", "/cases/{number}/waiting", users.Look, showWaiting, ""},
	{"GET", "/cases/{number}/told", users.Look, showTold, ""},
	{"GET", "/cases/{number}/since", users.Look, showSince, ""},
}

// explained is a case that can be judged.
func (a *asked) explained() (*kept, error) {
	k, err := a.kept()
	if err != nil {
		return nil, err
	}
	return k, k.judged()
}

// ask asks a question about the case.
func ask[T any](k *kept, question func(*answers.Asker) T) (out T) {
	k.Rules.Prepared.sit(func(s *seat) { out = question(s.asker) })
	return out
}

// whyView is what the page of reasons shows.
type whyView struct {
	*kept
	Short *answers.Short
}

func showWhy(a *asked) (*page, error) {
	k, err := a.explained()
	if err != nil {
		return nil, err
	}
	s := ask(k, func(x *answers.Asker) *answers.Short { return x.Short(k.Case, k.Told.Moment, k.Told.Explained) })
	return &page{Template: "why", Title: "Why: " + k.Number, View: &whyView{k, s}, Data: k.Told.Explained}, nil
}

// Step is a step of the chain by its number, or nil.
func (v *whyView) Step(n int) *engine.Step {
	if n < 1 || n > len(v.Told.Chain) {
		return nil
	}
	return &v.Told.Chain[n-1]
}

// whyNotView is what the page shows on which one asks why a stone was not called something.
type whyNotView struct {
	*kept
	Asked string
	Names []string
	Wrong string
	Not   *answers.WhyNot
	For   string // the two that are weighed against each other, by their names
	Over  string
}

func showWhyNot(a *asked) (*page, error) {
	k, err := a.explained()
	if err != nil {
		return nil, err
	}
	v := &whyNotView{kept: k, Asked: strings.TrimSpace(a.URL.Query().Get("material"))}
	rs := k.Rules.Ruleset
	for _, id := range rs.NodeIDs() {
		v.Names = append(v.Names, rs.Node(id).Name)
	}
	p := &page{Template: "why-not", Title: "Why not: " + k.Number, View: v}
	if v.Asked == "" {
		return p, nil
	}
	m, err := catalog.FindMaterial(rs, v.Asked)
	if err != nil {
		v.Wrong, p.Status = err.Error()+".", 422
		return p, nil
	}
	var unknown *answers.UnknownNode
	k.Rules.Prepared.sit(func(s *seat) { v.Not, err = s.asker.WhyNot(k.Case, k.Told.Moment, m.ID) })
	switch {
	case errors.As(err, &unknown):
		v.Wrong, p.Status = err.Error()+".", 422
	case err != nil:
		return nil, err
	default:
		p.Data = v.Not
	}
	if v.Not != nil && v.Not.Ledger != nil {
		v.For, v.Over = leafName(rs, v.Not.Ledger.For), leafName(rs, v.Not.Ledger.Against)
	}
	return p, nil
}

// leafName is how the sheet of a leaf names it; the id where it has none.
func leafName(rs *kb.Ruleset, id string) string {
	for _, l := range rs.Leaves {
		if l.ID == id {
			return l.Name
		}
	}
	return id
}

// answerView is an answer that is a sentence and some more.
type answerView struct {
	*kept
	Head  string
	Says  string
	Items []string
	After []string
}

func answerPage(k *kept, head string, data any, v answerView) *page {
	v.kept, v.Head = k, head
	return &page{Template: "answer", Title: head + ": " + k.Number, View: &v, Data: data}
}

func showRests(a *asked) (*page, error) {
	k, err := a.explained()
	if err != nil {
		return nil, err
	}
	r := ask(k, func(x *answers.Asker) *answers.Rests { return x.Rests(k.Case, k.Told.Moment) })
	v := answerView{Says: r.Says}
	for _, s := range r.Sets {
		v.Items = append(v.Items, s.Says)
	}
	for _, n := range r.NotNeeded {
		v.After = append(v.After, phrase.InWords(n.Name)+" "+n.Says)
	}
	return answerPage(k, "What it is based on", r, v), nil
}

func showChange(a *asked) (*page, error) {
	k, err := a.explained()
	if err != nil {
		return nil, err
	}
	c := ask(k, func(x *answers.Asker) *answers.Change { return x.Change(k.Case, k.Told.Moment) })
	v := answerView{Says: c.Says}
	for _, x := range c.Changes {
		v.Items = append(v.Items, x.Says)
	}
	return answerPage(k, "What would change it", c, v), nil
}

func showRepeat(a *asked) (*page, error) {
	k, err := a.explained()
	if err != nil {
		return nil, err
	}
	c := ask(k, func(x *answers.Asker) *answers.Contradiction { return x.Contradiction(k.Case, k.Told.Moment) })
	v := answerView{Says: c.Says}
	for _, s := range c.Sets {
		v.Items = append(v.Items, s.Says)
	}
	return answerPage(k, "What to take again", c, v), nil
}

func showWaiting(a *asked) (*page, error) {
	k, err := a.explained()
	if err != nil {
		return nil, err
	}
	w := ask(k, func(x *answers.Asker) *answers.Waiting { return x.Waiting(k.Case, k.Told.Moment) })
	v := answerView{Says: w.Says}
	for _, r := range w.Rules {
		v.Items = append(v.Items, r.Says)
	}
	return answerPage(k, "What rules wait for", w, v), nil
}

// toldView is a verdict as it was told when it was issued.
type toldView struct {
	*kept
	Text string
	When string
}

func showTold(a *asked) (*page, error) {
	k, err := a.kept()
	if err != nil {
		return nil, err
	}
	last := k.Last()
	if last == nil {
		return nil, &problem{Status: 404, Says: "No verdict was issued on " + k.Number + "."}
	}
	v := &toldView{kept: k, When: terminal.Moment(last.Event.At) + ", " + last.Event.By}
	var chain []byte
	err = a.desk.Book.Read(a.Context(), func(view casebook.View) error {
		told, err1 := casebook.Need(view, last.Told)
		why, err2 := casebook.Need(view, last.Why)
		var err3 error
		chain, err3 = casebook.Need(view, last.Chain)
		v.Text = string(told) + "\n" + string(why)
		return errors.Join(err1, err2, err3)
	})
	if err != nil {
		return nil, err
	}
	return &page{Template: "told", Title: "As it was told: " + k.Number, View: v, Data: json.RawMessage(chain)}, nil
}

// sinceView is the verdict that was issued beside today's.
type sinceView struct {
	*kept
	Then *judging.Then
	Done []string // to the case since then, in the words of the page
}

func showSince(a *asked) (*page, error) {
	k, err := a.kept()
	if err != nil {
		return nil, err
	}
	v := &sinceView{kept: k}
	err = a.desk.Book.Read(a.Context(), func(view casebook.View) (err error) {
		k.Rules.Prepared.sit(func(s *seat) { v.Then, err = judging.Since(a.Context(), view, k.State, s.Judging) })
		return err
	})
	var unissued *judging.Unissued
	var unreadable *judging.Unreadable
	switch {
	case errors.As(err, &unissued):
		return nil, &problem{Status: 404, Says: "No verdict was issued on " + k.Number + "."}
	case errors.As(err, &unreadable):
		return nil, k.judged()
	case err != nil:
		return nil, err
	}
	for _, e := range k.Since(v.Then.Told.Version) {
		v.Done = append(v.Done, terminal.Moment(e.At)+"  "+e.By+"  "+k.deed(e))
	}
	return &page{Template: "since", Title: "Then and today: " + k.Number, View: v, Data: v.Then}, nil
}
