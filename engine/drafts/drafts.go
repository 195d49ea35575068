// Package drafts tells what the drafts of a ruleset would change about a case.
//
// A draft is evaluated and changes nothing. What it would change is not reasoned out beside the engine: the ruleset is
// built with the draft active ([load.WithDrafts]), the case is judged by that, and the two outcomes are compared. So
// the answer is the engine's own, whatever else hangs on the rule: facts that others read, readings that it sets aside,
// the family that its evidence counts in.
//
// A draft is told when it holds; one that doesn't, when it would change something all the same (arithmetic that fails
// in it makes every verdict inconclusive, a fact that it establishes may become undecided, a rule that it replaces
// would be gone). One that waits for a reading that nobody took is not told otherwise.
package drafts

import (
	"reflect"
	"slices"
	"strings"
	"sync"

	"whystone/engine"
	"whystone/engine/diff"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/eval"
	"whystone/kb/load"
	"whystone/kb/logic"
)

// Drafts tries out the drafts of one ruleset. Rulesets with drafts active are made when they are asked for first, and
// kept. Safe for concurrent use.
type Drafts struct {
	rs    *kb.Ruleset
	rules []*kb.Rule
	runs  sync.Pool // of *eval.Run

	mu     sync.Mutex
	trials map[string]*trial // by the ids of the drafts that are active
	kept   []string          // their keys, the oldest first
}

// mostKept bounds the trials that are kept: each is a whole ruleset.
const mostKept = 24

// New finds the drafts of a ruleset. One without any costs nothing here, and nothing later.
func New(rs *kb.Ruleset) *Drafts {
	d := &Drafts{rs: rs, rules: rs.Drafts(), trials: map[string]*trial{}}
	d.runs.New = func() any { return eval.New(rs) }
	return d
}

// Try writes into a verdict what each draft that has a say in the case would change, and what all would together.
func (d *Drafts) Try(c *casefile.Case, m engine.Moment, out *engine.Output) {
	if len(d.rules) == 0 {
		return
	}
	told := []engine.Draft{}
	for _, s := range d.standings(c, m) {
		n := engine.DraftNote(s.rule)
		n.Would, n.Error = d.would(c, m, out, s.rule.ID)
		if s.holds || n.Would != nil {
			told = append(told, n)
		}
	}
	out.Drafts = told
	if len(told) > 0 && len(d.rules) > 1 {
		out.DraftsTogether = d.together(c, m, out)
	}
}

// standing is a draft that may have a say in a case.
type standing struct {
	rule  *kb.Rule
	holds bool
}

// standings lists the drafts that hold; those that are undecided, but not for want of a reading; and, as the family and
// the weight of what reads a fact may rest on them, those that establish one. By id.
func (d *Drafts) standings(c *casefile.Case, m engine.Moment) []standing {
	run := d.runs.Get().(*eval.Run)
	defer d.runs.Put(run)
	run.Do(c, m.On)
	var out []standing
	for _, r := range d.rules {
		v := run.Rules[r.Turn]
		switch {
		case v == logic.Holds:
			out = append(out, standing{r, true})
		case d.replaces(r, run):
			out = append(out, standing{r, false})
		case v == logic.Undecided && slices.ContainsFunc(run.Causes(r), wanting):
		case v == logic.Undecided || len(r.Establishes) > 0:
			out = append(out, standing{r, false})
		}
	}
	return out
}

// replaces tells whether a draft is to take away a rule that has a say in the case, whatever the draft itself comes to.
func (d *Drafts) replaces(r *kb.Rule, run *eval.Run) bool {
	old := d.rs.Rule(r.Place.Replaces)
	return old != nil && old.Turn >= 0 && (run.Rules[old.Turn] != logic.Fails || len(old.Establishes) > 0)
}

// wanting tells whether something is undecided because nobody looked.
func wanting(c logic.Cause) bool { return c.Why == logic.Absent || c.Why == logic.NotLookedFor }

// together is what all drafts would change; nil when that is what the only one told would.
func (d *Drafts) together(c *casefile.Case, m engine.Moment, out *engine.Output) *engine.Together {
	all := english.Each(d.rules, func(r *kb.Rule) string { return r.ID })
	t := &engine.Together{Rules: all}
	t.Would, t.Error = d.would(c, m, out, all...)
	if only := out.Drafts; len(only) == 1 && t.Error == nil && only[0].Error == nil &&
		reflect.DeepEqual(only[0].Would, t.Would) {
		return nil
	}
	return t
}

// would judges the case with drafts active. Nil when nothing would change, or with a list that says why they can't be.
func (d *Drafts) would(c *casefile.Case, m engine.Moment, was *engine.Output, ids ...string) (*engine.Would,
	diag.List) {
	t := d.trial(ids)
	t.once.Do(func() { t.prepare(d.rs, ids) })
	if t.engine == nil {
		return nil, t.found
	}
	j := t.judges.Get().(*engine.Judge)
	defer t.judges.Put(j)
	return diff.Outputs(was, j.Judge(Under(t.engine.Ruleset, c), m)), nil
}

// trial is a ruleset with drafts active, prepared; or why there is none.
type trial struct {
	once   sync.Once
	engine *engine.Engine
	found  diag.List
	judges sync.Pool
}

func (d *Drafts) trial(ids []string) *trial {
	d.mu.Lock()
	defer d.mu.Unlock()
	key := strings.Join(ids, " ")
	t := d.trials[key]
	if t == nil {
		if len(d.kept) == mostKept {
			delete(d.trials, d.kept[0])
			d.kept = d.kept[1:]
		}
		t = &trial{}
		d.trials[key], d.kept = t, append(d.kept, key)
	}
	return t
}

func (t *trial) prepare(rs *kb.Ruleset, ids []string) {
	active, found := load.WithDrafts(rs, ids...)
	if active == nil {
		t.found = slices.DeleteFunc(found, func(x diag.Diagnostic) bool { return x.Severity != diag.Error })
		return
	}
	t.engine = engine.Prepare(active)
	t.judges.New = func() any { return t.engine.NewJudge() }
}

// Under is a case as another ruleset of the same vocabulary reads it: its own observables in place of those that the
// case was read with.
func Under(rs *kb.Ruleset, c *casefile.Case) *casefile.Case {
	out := *c
	out.Readings = make([]*casefile.Reading, len(c.Readings))
	for i, r := range c.Readings {
		x := *r
		x.Observable = rs.Vocabulary.Observable(r.Observable.Name)
		out.Readings[i] = &x
	}
	out.Correlations = slices.Clone(c.Correlations)
	for i, k := range out.Correlations {
		out.Correlations[i].A, out.Correlations[i].B = rs.Vocabulary.Observable(k.A.Name),
			rs.Vocabulary.Observable(k.B.Name)
	}
	return &out
}
