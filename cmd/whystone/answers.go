package main

import (
	"errors"

	"whystone/cmd/whystone/catalog"
	"whystone/cmd/whystone/terminal"
	"whystone/engine/answers"
)

// asked is what the flags of why ask for besides the chain.
type asked struct {
	all, rests, change, waiting, repeat bool
	not, page                           string
}

// several tells whether more than one answer is asked for.
func (q *asked) several() bool {
	n := 0
	for _, yes := range []bool{q.all, q.rests, q.change, q.waiting, q.repeat, q.not != "", q.page != ""} {
		if yes {
			n++
		}
	}
	return n > 1
}

// any tells whether anything but the chain is asked for.
func (q *asked) any() bool {
	return q.all || q.rests || q.change || q.waiting || q.repeat || q.not != "" || q.page != ""
}

// answer gives the one answer that was asked for; false when it is the chain itself.
func (s *session) answer(t terminal.Told, q *asked) (bool, error) {
	asker := answers.New(t.Engine)
	switch {
	case q.not != "":
		m, err := catalog.FindMaterial(t.Ruleset, q.not)
		if err != nil {
			return true, &ended{status: unusable, says: err.Error()}
		}
		why, err := asker.WhyNot(t.Case, t.Moment, m.ID)
		var unknown *answers.UnknownNode
		if errors.As(err, &unknown) {
			return true, &ended{status: unusable, says: err.Error()}
		}
		return true, s.told(why, func() { s.out.WhyNot(t, why) })
	case q.rests:
		r := asker.Rests(t.Case, t.Moment)
		return true, s.told(r, func() { s.out.Rests(t, r) })
	case q.change:
		c := asker.Change(t.Case, t.Moment)
		return true, s.told(c, func() { s.out.WouldChange(t, c) })
	case q.repeat:
		c := asker.Contradiction(t.Case, t.Moment)
		return true, s.told(c, func() { s.out.Contradiction(t, c) })
	case q.waiting:
		w := asker.Waiting(t.Case, t.Moment)
		return true, s.told(w, func() { s.out.Waiting(t, w) })
	}
	return false, nil
}

// told writes an answer, as data or as text.
func (s *session) told(object any, text func()) error {
	if s.json() {
		return s.print(object)
	}
	text()
	s.out.Blank()
	return write(s.out)
}
