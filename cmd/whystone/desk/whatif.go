package desk

import (
	"errors"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/desk/form"
	"whystone/cmd/whystone/terminal"
	"whystone/cmd/whystone/users"
	"whystone/engine/phrase"
	"whystone/kb/diag"
)

// whatIfRoutes judge a case as it is not. Nothing of it is kept.
var whatIfRoutes = []route{{"GET", "/cases/{number}/what-if", users.Look, of((*asked).explained, showWhatIf), ""}}

// mostSupposed bounds what is supposed at once.
const mostSupposed = 50

// whatIf is what the page shows.
type whatIf struct {
	*kept
	Readings []line
	Without  []string
	With     []supposed
	Then     *kept // the case as it is supposed; nil while nothing is
	Fields   []terminal.Field
	Unread   []string
	Enter    *entering
}

// supposed is a reading that nobody took.
type supposed struct{ Name, Says, Sent, Less string } // as it is sent; and the address without it

func showWhatIf(a *asked, k *kept) (*page, error) {
	q := a.URL.Query()
	w := &whatIf{kept: k, Without: q["without"],
		Readings: slices.DeleteFunc(k.lines(), func(l line) bool { return l.Withdrawn != "" })}
	e := &entering{Number: k.Number, Version: k.Version, Test: strings.TrimSpace(q.Get("test")),
		All: k.Rules.Ruleset.Tests, Get: true, Keep: url.Values{"without": q["without"], "with": q["with"]},
		Path: caseAt(k.Number) + "/what-if"}
	w.Enter = e
	if q.Has("observable") {
		r, err := form.Read(k.Rules.Ruleset, q)
		var bad *form.Wrong
		if !errors.As(err, &bad) && err != nil {
			return nil, err
		}
		if err == nil {
			e.Keep.Add("with", r.Observable+"="+r.Text)
			return &page{To: e.Path + "?" + e.Keep.Encode()}, nil
		}
		e.Wrong = []string{bad.Says}
	}
	if q.Has("test") {
		k.choose(e)
	}
	p := &page{Template: "what-if", Title: "What if: " + k.Number, View: w}
	return p, w.suppose(p, q["with"])
}

// suppose judges the case less some readings, and with others.
func (w *whatIf) suppose(p *page, with []string) error {
	if len(with)+len(w.Without) == 0 {
		return nil
	}
	if len(with) > mostSupposed {
		return wrong("At most %d readings are supposed at once.", mostSupposed)
	}
	then := *w.kept
	state := *w.State
	gone := func(r *casebook.Reading) bool { return slices.Contains(w.Without, strconv.Itoa(r.ID)) }
	state.Readings = slices.DeleteFunc(slices.Clone(state.Readings), gone)
	then.State = &state
	for i, sent := range with {
		name, text, ok := strings.Cut(sent, "=")
		if !ok || casebook.Parse(diag.NewSource("", []byte(text)), &then.Wrong) == nil {
			return wrong("A reading that is supposed can't be read: %s.", sent)
		}
		r := &casebook.Reading{ID: -1 - i, Observable: name, Text: text}
		state.Readings = append(state.Readings, r)
		less := url.Values{"without": w.Without, "with": slices.Delete(slices.Clone(with), i, i+1)}
		w.With = append(w.With, supposed{phrase.InWords(name), w.says(r), sent, w.Enter.Path + "?" + less.Encode()})
	}
	then.read()
	then.judge()
	w.Then = &then
	if then.Case == nil {
		w.Unread = found(then.Wrong)
		return nil
	}
	w.Fields = then.Told.Fields()
	p.Data = &then.Told.Output
	return nil
}
