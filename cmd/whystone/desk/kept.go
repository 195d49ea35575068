package desk

import (
	"cmp"
	"encoding/json"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/judging"
	"whystone/cmd/whystone/terminal"
	"whystone/engine/phrase"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/english"
)

// kept is a case of the casebook as it is at one moment, judged by the rules of now.
type kept struct {
	*casebook.State
	Head  casebook.Head
	Held  map[string]string // what is held apart, pictures left out
	Rules *snapshot
	Case  *casefile.Case // nil where the rules of now can't read it
	Told  terminal.Told
	Wrong diag.List // why not
	said  map[[2]string]string
}

// kept finds the case that a path names, and judges it.
func (a *asked) kept() (*kept, error) {
	k, err := a.found()
	if err == nil {
		if k.judge(); k.Case != nil {
			k.Rules.Prepared.short.put(k.key(), k.Told.InShort())
		}
	}
	return k, err
}

// found finds the case that a path names. To do something to it one need not judge it.
func (a *asked) found() (*kept, error) {
	k := &kept{Rules: a.desk.now(), Held: map[string]string{}}
	err := a.desk.Book.Read(a.Context(), func(v casebook.View) (err error) {
		if k.Head, err = v.Head(); err != nil {
			return err
		}
		if k.State, err = casebook.Find(v, a.PathValue("number")); err != nil {
			return err
		}
		for _, h := range k.State.Held {
			if h.What == casebook.Picture {
				continue
			}
			p, err := v.Particular(h.ID)
			if err != nil {
				return err
			}
			if p != nil {
				k.Held[h.ID] = string(p.Content)
			}
		}
		return nil
	})
	if err != nil {
		return nil, notFound(err)
	}
	k.read()
	return k, nil
}

// notFound tells that a path names no case, or several.
func notFound(err error) error {
	if outside(err) {
		return err
	}
	return &problem{Status: http.StatusNotFound, Says: phrase.Ended(err.Error())}
}

// judge judges the case, where it can be read.
func (k *kept) judge() {
	if k.Case != nil {
		k.Told = k.Rules.Prepared.judge(k.Case)
	}
}

// read reads the case by the rules.
func (k *kept) read() {
	it := judging.Read(k.Rules.Ruleset, k.State)
	k.Case, k.Wrong = it.Case, it.Found
}

// judged needs a case that can be judged.
func (k *kept) judged() error {
	if k.Case != nil {
		return nil
	}
	return unfit(k.Number+" can't be judged by the rules of now.", k.Wrong)
}

// unfit tells what was found wrong with something.
func unfit(says string, list diag.List) error {
	return &problem{Status: http.StatusUnprocessableEntity, Says: says, More: found(list), list: list}
}

// ofTheStone are what people call those keys of a stone that they call otherwise.
var ofTheStone = map[string]string{"carat": "weight", "length_mm": "length", "width_mm": "width", "depth_mm": "depth"}

// called is what people call a field of a case or what is read.
func called(key string) string {
	key = strings.TrimPrefix(key, "stone.")
	return cmp.Or(ofTheStone[key], phrase.InWords(key))
}

// about is what is wrong with what was typed in a form, which is called as people call it.
func about(d diag.Diagnostic) string {
	named := d.Named()
	d = d.Calling(func(x any) any {
		if name, is := x.(diag.Name); is {
			return called(string(name))
		}
		return x
	})
	if named || d.Span.IsZero() {
		return d.Summary
	}
	return called(d.Span.Source.Key) + ": " + d.Summary
}

// found are findings in words: what is wrong, what to do, and the name that was perhaps meant. What stands in a file is
// told as its author wrote it.
func found(list diag.List) []string {
	return english.Each(list, func(d diag.Diagnostic) string {
		says, advice := d.Summary, d.Advice()
		if d.Span.IsZero() || d.Span.Source.Key != "" {
			says, advice = about(d), d.Detail
		}
		says = phrase.Sentence(says)
		if advice != "" {
			says += " " + advice
		}
		if d.Nearest != "" {
			says += " Did you mean " + strconv.Quote(d.Nearest) + "?"
		}
		return says
	})
}

// key names a version of the case, for what is remembered of it.
func (k *kept) key() string { return k.Number + "@" + strconv.Itoa(k.Version) }

// caseAt is the path of a case's page.
func caseAt(number string) string { return "/cases/" + number }

// line is a reading as the page lists it.
type line struct {
	*casebook.Reading
	Name  string // in words
	Says  string
	Test  string
	Since string // when it was read
	Notes []string
}

// lines are the readings as they were entered.
func (k *kept) lines() []line {
	return english.Each(k.Readings, func(r *casebook.Reading) line {
		l := line{Reading: r, Name: phrase.InWords(r.Observable), Says: r.Text, Since: terminal.Moment(r.Event.At)}
		if o := k.Rules.Ruleset.Vocabulary.Observable(r.Observable); o != nil {
			l.Test = o.Test
			l.Says = k.says(r)
		}
		l.Notes = english.Only(r.Notes, func(n casebook.Ref) (string, bool) {
			text, ok := k.Held[n.ID]
			return noteText(text), ok
		})
		return l
	})
}

// noteText is the note of a reading without the quotes in which it may have been typed.
func noteText(typed string) string {
	var text string
	if json.Unmarshal([]byte(typed), &text) == nil {
		return text
	}
	return typed
}

// deed says what an event did, readings in the words of the page.
func (k *kept) deed(e *casebook.Event) string {
	told := *e
	name := e.Data.Observable
	if r := k.Reading(e.Data.Reading); r != nil {
		name = r.Observable
	}
	if name != "" && e.Data.Text != "" {
		told.Data.Observable = phrase.InWords(name)
		told.Data.Text = k.says(&casebook.Reading{ID: e.Version, Observable: name, Text: e.Data.Text, Event: e})
	}
	return terminal.Deed(&told)
}

// history says what events did, each with when and by whom.
func (k *kept) history(events []*casebook.Event) []string {
	return english.Each(events, func(e *casebook.Event) string { return terminal.Entry(e, k.deed(e)) })
}

// says is what one reading says, read by itself on this stone; as it was typed where it can't be read. A page asks for
// it in several places, so that it is remembered.
func (k *kept) says(r *casebook.Reading) string {
	key := [2]string{r.Observable, r.Text}
	if says, ok := k.said[key]; ok {
		return says
	}
	says := k.readOnce(r)
	if says == "" {
		says = k.readAlone(r)
	}
	if k.said == nil {
		k.said = map[[2]string]string{}
	}
	k.said[key] = says
	return says
}

// readOnce is what a reading says where the case is read with it, and with no other of its observable; else nothing.
func (k *kept) readOnce(r *casebook.Reading) (says string) {
	for _, o := range k.Live() {
		if o.Observable == r.Observable && (o.Text != r.Text || o.ID != r.ID) {
			return ""
		}
	}
	if k.Case == nil || !slices.ContainsFunc(k.Live(), func(o *casebook.Reading) bool { return o.ID == r.ID }) {
		return ""
	}
	return sayingOf(k.Case, r.Observable)
}

// sayingOf is what a case's one reading of an observable says; nothing where there is none, or several.
func sayingOf(c *casefile.Case, observable string) (says string) {
	for _, x := range c.Readings {
		if x.Observable.Name != observable || x.Derived {
			continue
		}
		if says != "" {
			return ""
		}
		says = phrase.ReadingText(x)
		if x.Where != "" {
			says += " (" + x.Where + ")"
		}
	}
	return says
}

func (k *kept) readAlone(r *casebook.Reading) string {
	alone := &casebook.State{Number: k.Number, Fields: k.Fields,
		Readings: []*casebook.Reading{{ID: r.ID, Observable: r.Observable, Text: r.Text, Event: r.Event}}}
	it := judging.Read(k.Rules.Ruleset, alone)
	if it.Case == nil {
		return r.Text
	}
	return cmp.Or(sayingOf(it.Case, r.Observable), r.Text)
}
