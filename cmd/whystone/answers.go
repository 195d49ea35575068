package main

import (
	"whystone/cmd/whystone/catalog"
	"whystone/cmd/whystone/terminal"
	"whystone/engine/answers"

	"whystone/engine/phrase"
)

// asked is what the flags of why ask for besides the chain.
type asked struct {
	all, rests, change, waiting, repeat bool
	not, rule, page, picture            string
}

// count is how many answers are asked for besides the chain.
func (q *asked) count() (n int) {
	for _, yes := range []bool{q.all, q.rests, q.change, q.waiting, q.repeat, q.not != "", q.rule != "", q.page != "",
		q.picture != ""} {
		if yes {
			n++
		}
	}
	return n
}

// reason gives the one answer that was asked for, or the chain behind a verdict.
func (s *session) reason(t terminal.Told, q *asked) error {
	asker := answers.New(t.Engine)
	switch {
	case q.not != "":
		m, err := catalog.FindMaterial(t.Ruleset, q.not)
		if err != nil {
			return err
		}
		why, err := asker.WhyNot(t.Case, t.Moment, m.ID)
		if err != nil {
			return err
		}
		return s.told(why, func() { s.out.WhyNot(t, why) })
	case q.rule != "":
		return s.ofRule(t, asker, q.rule)
	case q.rests:
		r := asker.Rests(t.Case, t.Moment)
		return s.told(r, func() { s.out.Rests(t, r) })
	case q.change:
		c := asker.Change(t.Case, t.Moment)
		return s.told(c, func() { s.out.Answer(t, c.Says, "Change", phrase.Said(c.Changes)) })
	case q.repeat:
		c := asker.Contradiction(t.Case, t.Moment)
		return s.told(c, func() { s.out.Answer(t, c.Says, "Repeat", phrase.Said(c.Sets)) })
	case q.waiting:
		w := asker.Waiting(t.Case, t.Moment)
		return s.told(w, func() { s.out.Answer(t, w.Says, "Rule", phrase.Said(w.Rules)) })
	case q.all:
		return s.told(t.Explained, func() { s.out.WhyAll(t) })
	}
	return s.told(t.Explained, func() { s.out.Why(t) })
}

// ofRule tells what came of one rule on the case.
func (s *session) ofRule(t terminal.Told, asker *answers.Asker, name string) error {
	x, err := catalog.FindRuleOrTable(t.Ruleset, name)
	if err == nil && x.Table != nil {
		return usageError("%s is a table: ask for one of its rows, as %s-ROW", name, x.Table.ID)
	}
	if err == nil {
		name = x.Rule.ID
	}
	r := asker.OfRule(t.Case, t.Moment, name)
	if r == nil {
		return err
	}
	return s.told(r, func() { s.out.OfRule(t, r) })
}

// told writes an answer, as data or as text.
func (s *session) told(object any, text func()) error {
	return s.tell(object, func() {
		text()
		s.out.Blank()
	})
}
