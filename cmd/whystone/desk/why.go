package desk

import (
	"encoding/json"
	"errors"
	"net/http"
	"strings"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/catalog"
	"whystone/cmd/whystone/judging"
	"whystone/cmd/whystone/terminal"
	"whystone/cmd/whystone/users"
	"whystone/engine"
	"whystone/engine/answers"
	"whystone/engine/phrase"
	"whystone/kb/english"
)

// whyRoutes answer questions about a verdict.
var whyRoutes = []route{
	{"GET", "/cases/{number}/why", users.Look, of((*asked).explained, showWhy), ""},
	{"GET", "/cases/{number}/why-not", users.Look, of((*asked).explained, showWhyNot), ""},
	{"GET", "/cases/{number}/rests", users.Look, of((*asked).explained, showRests), ""},
	{"GET", "/cases/{number}/change", users.Look, of((*asked).explained, showChange), ""},
	{"GET", "/cases/{number}/repeat", users.Look, of((*asked).explained, showRepeat), ""},
	{"GET", "/cases/{number}/waiting", users.Look, of((*asked).explained, showWaiting), ""},
	{"GET", "/cases/{number}/told", users.Look, of((*asked).kept, showTold), ""},
	{"GET", "/cases/{number}/since", users.Look, of((*asked).kept, showSince), ""},
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

func showWhy(_ *asked, k *kept) (*page, error) {
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

func showWhyNot(a *asked, k *kept) (*page, error) {
	v := &whyNotView{kept: k, Asked: strings.TrimSpace(a.URL.Query().Get("material"))}
	rs := k.Rules.Ruleset
	v.Names = english.Each(rs.NodeIDs(), func(id string) string { return rs.Node(id).Name })
	p := &page{Template: "why-not", Title: "Why not: " + k.Number, View: v}
	if v.Asked == "" {
		return p, nil
	}
	m, err := catalog.FindMaterial(rs, v.Asked)
	if err == nil {
		k.Rules.Prepared.sit(func(s *seat) { v.Not, err = s.asker.WhyNot(k.Case, k.Told.Moment, m.ID) })
	}
	if err != nil { // nobody knows the name
		v.Wrong, p.Status = err.Error()+".", http.StatusUnprocessableEntity
		return p, nil
	}
	p.Data = v.Not
	if v.Not.Ledger != nil {
		v.For, v.Over = phrase.NameOf(rs, v.Not.Ledger.For), phrase.NameOf(rs, v.Not.Ledger.Against)
	}
	return p, nil
}

// answerView is an answer that is a sentence and some more.
type answerView struct {
	*kept
	Head, Says   string
	Items, After []string
}

func answerPage(k *kept, head, says string, data any, items, after []string) (*page, error) {
	return &page{Template: "answer", Title: head + ": " + k.Number, View: &answerView{k, head, says, items, after},
		Data: data}, nil
}

func showRests(_ *asked, k *kept) (*page, error) {
	r := ask(k, func(x *answers.Asker) *answers.Rests { return x.Rests(k.Case, k.Told.Moment) })
	return answerPage(k, "What it is based on", r.Says, r, phrase.Said(r.Sets), english.Each(r.NotNeeded,
		func(n answers.Reading) string { return phrase.InWords(n.Name) + " " + n.Says }))
}

func showChange(_ *asked, k *kept) (*page, error) {
	c := ask(k, func(x *answers.Asker) *answers.Change { return x.Change(k.Case, k.Told.Moment) })
	return answerPage(k, "What would change it", c.Says, c, phrase.Said(c.Changes), nil)
}

func showRepeat(_ *asked, k *kept) (*page, error) {
	c := ask(k, func(x *answers.Asker) *answers.Contradiction { return x.Contradiction(k.Case, k.Told.Moment) })
	return answerPage(k, "What to take again", c.Says, c, phrase.Said(c.Sets), nil)
}

func showWaiting(_ *asked, k *kept) (*page, error) {
	w := ask(k, func(x *answers.Asker) *answers.Waiting { return x.Waiting(k.Case, k.Told.Moment) })
	return answerPage(k, "What rules wait for", w.Says, w, phrase.Said(w.Rules), nil)
}

// toldView is a verdict as it was told when it was issued.
type toldView struct {
	*kept
	Text string
	When string
}

func showTold(a *asked, k *kept) (*page, error) {
	last := k.Last()
	if last == nil {
		return nil, noVerdict(k)
	}
	v := &toldView{kept: k, When: terminal.Moment(last.Event.At) + ", " + last.Event.By}
	var chain []byte
	err := a.desk.Book.Read(a.Context(), func(view casebook.View) error {
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

func noVerdict(k *kept) error {
	return &problem{Status: http.StatusNotFound, Says: "No verdict was issued on " + k.Number + "."}
}

// sinceView is the verdict that was issued beside today's.
type sinceView struct {
	*kept
	Then *judging.Then
	Done []string // to the case since then, in the words of the page
}

func showSince(a *asked, k *kept) (*page, error) {
	v := &sinceView{kept: k}
	err := a.desk.Book.Read(a.Context(), func(view casebook.View) (err error) {
		k.Rules.Prepared.sit(func(s *seat) { v.Then, err = judging.Since(a.Context(), view, k.State, s.Judging) })
		return err
	})
	var unissued *judging.Unissued
	var unreadable *judging.Unreadable
	switch {
	case errors.As(err, &unissued):
		return nil, noVerdict(k)
	case errors.As(err, &unreadable):
		return nil, k.judged()
	case err != nil:
		return nil, err
	}
	v.Done = k.history(k.Since(v.Then.Told.Version))
	return &page{Template: "since", Title: "Then and today: " + k.Number, View: v, Data: v.Then}, nil
}
