package coverage

import (
	"slices"
	"time"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/condition"
	"whystone/kb/english"
	"whystone/kb/logic"
)

// Counter counts what cases exercise, one after another. One goroutine uses it at a time.
type Counter struct {
	counts
	engine  *engine.Engine
	judge   *engine.Judge
	watched []*condition.Observer // by place in the order of the rules, as all that follows
	says    [][]says
	texts   int // how many unlike things the rules show

	// Of the case at hand:
	whole, without *outcome
	showing        []int // how many rules show a text
	shownBy        [][]int
	held           []int
	setsAside      []bool // the rule set aside something that the case has
	faulty         []bool
}

// counts is what is counted.
type counts struct {
	cases, undated, unreadable int64
	rules                      []Count
	parts                      [][]PartCount
	unread                     []Unread
}

// mostUnread is how many records that can't be read are told one by one.
const mostUnread = 20

// NewCounter makes a counter that has seen nothing.
func NewCounter(e *engine.Engine) *Counter {
	n := len(e.Ruleset.Order)
	k := &Counter{engine: e, judge: e.NewJudge(), says: make([][]says, n), shownBy: make([][]int, n),
		setsAside: make([]bool, n), faulty: make([]bool, n)}
	k.watched = english.Each(e.Ruleset.Order,
		func(r *kb.Rule) *condition.Observer { return condition.Observe(r.If, r.Unless) })
	k.readSays()
	k.showing = make([]int, k.texts)
	k.whole, k.without = k.newOutcome(), k.newOutcome()
	k.counts = k.empty()
	return k
}

func (k *Counter) empty() counts {
	c := counts{rules: make([]Count, len(k.watched)), parts: make([][]PartCount, len(k.watched))}
	for i, o := range k.watched {
		c.parts[i] = make([]PartCount, len(o.Parts))
	}
	return c
}

// take hands out what was counted, and begins anew.
func (k *Counter) take() *counts {
	out := k.counts
	k.counts = k.empty()
	return &out
}

// merge adds what was counted of a later part of the archive.
func (c *counts) merge(o *counts) {
	c.cases, c.undated, c.unreadable = c.cases+o.cases, c.undated+o.undated, c.unreadable+o.unreadable
	for i := range o.rules {
		c.rules[i].add(&o.rules[i])
		for n := range o.parts[i] {
			c.parts[i][n].add(&o.parts[i][n])
		}
	}
	c.unread = append(c.unread, o.unread[:min(len(o.unread), mostUnread-len(c.unread))]...)
}

// skip counts a record that can't be read as a case.
func (c *counts) skip(u Unread) {
	c.unreadable++
	if len(c.unread) < mostUnread {
		c.unread = append(c.unread, u)
	}
}

// Add counts one case, judged as of a date.
func (k *Counter) Add(c *casefile.Case, on time.Time) {
	var d engine.Decision
	k.judge.Decide(c, on, &d)
	k.cases++
	k.look()
	k.told(k.whole, c, &d)
	clear(k.showing)
	for i := range k.shownBy {
		k.shownBy[i] = k.shownBy[i][:0]
	}
	k.shown(c, func(rule, text int) {
		if !slices.Contains(k.shownBy[rule], text) {
			k.shownBy[rule] = append(k.shownBy[rule], text)
			k.showing[text]++
		}
	})
	for _, i := range k.held {
		if k.decides(i, c, on) {
			k.rules[i].Decided++
		}
	}
	k.judge.Mute(nil)
}

// look counts how the rules and their parts came out in the case that was decided last.
func (k *Counter) look() {
	run := k.judge.Run()
	clear(k.setsAside)
	clear(k.faulty)
	for _, a := range run.SetAside {
		k.setsAside[a.Rule.Turn] = true
	}
	for _, f := range run.Faults {
		k.faulty[f.Rule.Turn] = true
	}
	k.held = k.held[:0]
	for i, r := range k.engine.Ruleset.Order {
		n := &k.rules[i]
		if !run.InForce[i] {
			n.NotInForce++
			continue
		}
		// What the rule reads is as it was when it was evaluated: whatever may change it comes first in the order.
		_, err := k.watched[i].Evaluate(&run.State)
		for p := range k.watched[i].Parts {
			k.parts[i][p].see(&k.watched[i].Parts[p])
		}
		switch v := run.Rules[i]; {
		case k.faulty[i] || err != nil: // a draft's fault is in no list
			n.Faults++
		case v == logic.Holds:
			n.Held++
			if r.Status == kb.Active {
				k.held = append(k.held, i)
			}
		case v == logic.Fails:
			n.Failed++
		default:
			n.Undecided++
		}
	}
}

func (c *PartCount) see(o *condition.Observed) {
	switch o.Truth {
	case logic.Holds:
		c.Held++
	case logic.Fails:
		c.Failed++
	default:
		c.Undecided++
	}
	if o.Decides {
		c.Decided++
	}
}

// decides tells whether the case comes out otherwise without a rule that held. The rule stays muted.
func (k *Counter) decides(i int, c *casefile.Case, on time.Time) bool {
	r := k.engine.Ruleset.Order[i]
	moves := len(r.Establishes) > 0 || k.setsAside[i] // other rules may see it
	if !moves {
		if slices.ContainsFunc(k.shownBy[i], func(text int) bool { return k.showing[text] == 1 }) {
			return true
		}
		if !r.Evidence() && r.Withholds == nil {
			return false
		}
	}
	k.judge.Mute(r)
	var d engine.Decision
	k.judge.Decide(c, on, &d)
	k.told(k.without, c, &d)
	return !k.whole.equal(k.without)
}
