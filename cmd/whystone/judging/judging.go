// Package judging joins cases with a ruleset: it reads them, judges them, and makes of a verdict what is told of it and
// kept.
package judging

import (
	"time"

	"whystone/cmd/whystone/terminal"
	"whystone/engine"
	"whystone/engine/drafts"
	"whystone/kb"
	"whystone/kb/casefile"
)

// Judging is how cases are judged: by which ruleset, and as of when those that say no date. One goroutine uses it at a
// time.
type Judging struct {
	Ruleset *kb.Ruleset
	Engine  *engine.Engine
	judge   *engine.Judge
	drafts  *drafts.Drafts
	asOf    *time.Time
	now     func() time.Time
}

// New prepares a ruleset. asOf is nil for the clock's time.
func New(rs *kb.Ruleset, asOf *time.Time, now func() time.Time) *Judging {
	e := engine.Prepare(rs)
	return &Judging{Ruleset: rs, Engine: e, judge: e.NewJudge(), drafts: drafts.New(rs), asOf: asOf, now: now}
}

// Another judges as this one does, for another goroutine.
func (j *Judging) Another() *Judging {
	out := *j
	out.judge = j.Engine.NewJudge()
	return &out
}

// Moment is when a case is judged as of. The time it was taken counts over the date that was given, and that over the
// clock.
func (j *Judging) Moment(c *casefile.Case) engine.Moment {
	m := engine.Moment{On: j.now().In(j.Ruleset.Policy.Zone), DatedBy: engine.ByClock}
	switch {
	case c.HasTaken:
		m = engine.Moment{On: c.Taken, DatedBy: engine.ByCase}
	case j.asOf != nil:
		m = engine.Moment{On: *j.asOf, DatedBy: engine.ByAsking}
	}
	return m
}

// Of judges a case, and tries the drafts on it.
func (j *Judging) Of(c *casefile.Case) terminal.Told {
	m := j.Moment(c)
	ex := j.judge.Explain(c, m)
	j.drafts.Try(c, m, &ex.Output)
	return terminal.Told{Ruleset: j.Ruleset, Engine: j.Engine, Case: c, Moment: m, Explained: ex}
}
