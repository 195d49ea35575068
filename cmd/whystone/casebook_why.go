package main

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/judging"
	"whystone/cmd/whystone/terminal"
	"whystone/engine"
	"whystone/engine/diff"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/load"
)

// kept takes the cases of the casebook out of a list of names.
func kept(names []string) (cases, files []string) {
	for _, n := range names {
		if strings.HasPrefix(n, judging.CasePrefix) && !strings.HasPrefix(n, judging.CasePrefix+"?") {
			cases = append(cases, n)
		} else {
			files = append(files, n)
		}
	}
	return cases, files
}

// whyEachTold shows what was told of the cases of the casebook, and returns the names of what nothing was told of.
func (s *session) whyEachTold(ctx context.Context, names []string) ([]string, error) {
	cases, rest := kept(names)
	for _, name := range cases {
		told, err := s.whyTold(ctx, name)
		if err != nil {
			return nil, err
		}
		if !told {
			s.err.Text(terminal.Plain, 0, "No verdict was issued on "+strings.TrimPrefix(name, judging.CasePrefix)+"; this is today's.")
			if err := write(s.err); err != nil {
				return nil, err
			}
			rest = append(rest, name)
		}
	}
	return rest, nil
}

// whyEachNow compares what was told of cases with today.
func (s *session) whyEachNow(ctx context.Context, names []string, asOf string, q *asked) error {
	cases, rest := kept(names)
	if len(rest) > 0 || q.count() > 0 {
		return usageError("--now compares what was told of cases of the casebook with today: name them as case:NUMBER, and ask nothing else")
	}
	for _, name := range cases {
		if err := s.whyNow(ctx, name, asOf); err != nil {
			return err
		}
	}
	return nil
}

// whyTold shows what was told of a case, byte for byte. It returns false when nothing was.
func (s *session) whyTold(ctx context.Context, name string) (told bool, err error) {
	var text []byte
	err = s.withCase(ctx, name, func(v casebook.View, st *casebook.State) error {
		last := st.Last()
		if last == nil {
			return nil
		}
		told = true
		hashes := []string{last.Told, last.Why}
		if s.json() {
			hashes = []string{last.Chain}
		}
		for _, hash := range hashes {
			b, err := casebook.Need(v, hash)
			if err != nil {
				return err
			}
			if len(text) > 0 {
				text = append(text, '\n')
			}
			text = append(text, b...)
		}
		return nil
	})
	if err != nil || !told {
		return told, err
	}
	if _, err := s.stdout.Write(text); err != nil {
		return true, &ended{status: fault}
	}
	return true, nil
}

// withCase opens the casebook for a look at one case.
func (s *session) withCase(ctx context.Context, name string, do func(casebook.View, *casebook.State) error) error {
	k, err := s.openBook(ctx, false)
	if err != nil {
		return err
	}
	defer func() { _ = k.store.Close() }() // only read from
	return bookError(k.Read(ctx, func(v casebook.View) error {
		head, err := v.Head()
		if err != nil {
			return err
		}
		s.head = head.String()
		st, err := atVersion(v, strings.TrimPrefix(name, judging.CasePrefix))
		if err != nil {
			return err
		}
		return do(v, st)
	}))
}

// since is what was told of a case, and what would be told of it now.
type since struct {
	Format   int           `json:"format"`
	Case     string        `json:"case"`
	Told     toldThen      `json:"told"`
	Now      nowTold       `json:"now"`
	Parts    *diff.Parting `json:"parts"`    // the first step at which the two chains part; null when they don't
	Readings []string      `json:"readings"` // what was done to the case since then
	Rules    []string      `json:"rules"`    // the sheets that differ
	Then     rulesOfThen   `json:"rules_of_then"`
}

type toldThen struct {
	Version int    `json:"version"`
	At      string `json:"at"`
	By      string `json:"by"`
	nowTold
}

type nowTold struct {
	Says    string `json:"says"`
	Verdict string `json:"verdict"`
	Ruleset string `json:"ruleset"`
	Method  int    `json:"method"`
	AsOf    string `json:"as_of"`
}

// rulesOfThen says what becomes of the rules by which it was told.
type rulesOfThen struct {
	Load bool   `json:"load"` // whether this program can still use them
	Says string `json:"says"`
	// Same tells whether the same readings still give, by the rules of then, what was told. It is null where that can't be
	// asked: another method, or rules that can't be used.
	Same *bool `json:"same"`
}

// chainThen is as much of a chain that was kept as is compared.
type chainThen struct {
	Says    string        `json:"says"`
	Verdict string        `json:"verdict"`
	Ruleset string        `json:"ruleset"`
	Method  int           `json:"method"`
	AsOf    string        `json:"as_of"`
	From    string        `json:"as_of_from"`
	Chain   []engine.Step `json:"chain"`
}

// whyNow compares what was told of a case with what would be told of it now.
func (s *session) whyNow(ctx context.Context, name, asOf string) error {
	rs, err := s.ruleset(ctx)
	if err != nil {
		return err
	}
	j, err := newJudging(rs, asOf, s.now)
	if err != nil {
		return err
	}
	var out *since
	err = s.withCase(ctx, name, func(v casebook.View, st *casebook.State) error {
		out, err = s.since(ctx, v, st, j)
		return err
	})
	if err != nil {
		return err
	}
	if s.json() {
		return s.print(out)
	}
	s.tellSince(out)
	s.out.Blank()
	s.closing(rs)
	return write(s.out)
}

func (s *session) since(ctx context.Context, v casebook.View, st *casebook.State, j *judging.Judging) (*since, error) {
	last := st.Last()
	if last == nil {
		return nil, &ended{status: unusable, says: "no verdict was issued on " + st.Number + ", so there is nothing to compare; casebook issue issues one"}
	}
	raw, err := casebook.Need(v, last.Chain)
	if err != nil {
		return nil, err
	}
	var then chainThen
	if err := json.Unmarshal(raw, &then); err != nil {
		return nil, fmt.Errorf("the chain that was kept can't be read: %w", err)
	}
	it := judging.Read(j.Ruleset, st)
	if it.Case == nil {
		return nil, &ended{status: unusable, says: st.Number + " can't be judged by the rules of today", list: it.Found}
	}
	now := j.Of(it.Case)
	out := &since{Format: 1, Case: st.Number, Readings: []string{}, Rules: []string{},
		Told: toldThen{Version: last.Event.Version, At: last.Event.At.Format("2006-01-02T15:04:05Z07:00"), By: last.Event.By,
			nowTold: nowTold{then.Says, then.Verdict, then.Ruleset, then.Method, then.AsOf}},
		Now:   nowTold{now.Says, now.Verdict, now.Output.Ruleset, now.Method, now.AsOf},
		Parts: diff.Chains(then.Chain, now.Chain)}
	for _, e := range st.Since(last.Event.Version) {
		out.Readings = append(out.Readings, fmt.Sprintf("%d  %s  %s  %s", e.Version, terminal.Moment(e.At), e.By, terminal.Deed(e)))
	}
	return out, s.rulesThen(ctx, v, st, last, &then, j.Ruleset, out)
}

// rulesThen loads the rules by which it was told, says what differs, and judges the readings of then by them once more.
func (s *session) rulesThen(ctx context.Context, v casebook.View, st *casebook.State, last *casebook.Told, then *chainThen, rs *kb.Ruleset, out *since) error {
	files, err := casebook.Files(v, last.Verdict)
	if err != nil {
		return err
	}
	old, found := load.Build(files)
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case old == nil:
		out.Then.Says = "The rules of then can't be used by this program any more: " + found.Error()
		return nil
	}
	out.Then.Load = true
	out.Rules = append(out.Rules, judging.Changes(rs, diff.Rulesets(old, rs))...)
	if last.Method != kb.ArithmeticVersion {
		out.Then.Says = fmt.Sprintf("It was told by method %d, and this program judges by method %d: what was told can't be reached again, only shown.", last.Method, kb.ArithmeticVersion)
		return nil
	}
	before, err := st.AtVersion(last.Event.Version - 1)
	if err != nil {
		return err
	}
	it := judging.Read(old, before)
	if it.Case == nil {
		out.Then.Says = "The readings of then can't be read by the rules of then: " + it.Found.Error()
		return nil
	}
	on := then.AsOf
	if it.Case.HasTaken {
		on = ""
	}
	j, err := newJudging(old, on, s.now)
	if err != nil {
		return err
	}
	same := diff.Chains(then.Chain, j.Of(it.Case).Chain) == nil
	out.Then.Same = &same
	out.Then.Says = map[bool]string{
		true:  "The readings of then, judged by the rules of then, still give what was told.",
		false: "The readings of then, judged by the rules of then, no longer give what was told: the program itself has changed.",
	}[same]
	return nil
}

// tellSince tells it.
func (s *session) tellSince(x *since) {
	p := s.out
	p.Text(terminal.Bold, 0, x.Case)
	p.Field("Told", terminal.Plain, x.Told.At[:10]+" by "+x.Told.By+", in version "+terminal.Count(x.Told.Version)+": "+x.Told.Says)
	p.Field("Now", terminal.Accent, x.Now.Says)
	switch {
	case x.Parts == nil:
		p.Field("Reasoning", terminal.Plain, "the same, step by step")
	default:
		p.Field("Parts at", terminal.Plain, "step "+terminal.Count(x.Parts.Step)+" of the reasoning")
		for _, side := range [][2]string{{"then", x.Parts.Was}, {"now", x.Parts.Is}} {
			says := side[1]
			if says == "" {
				says = "no further step"
			}
			p.Field(side[0], terminal.Plain, phrase.InWords(says))
		}
	}
	p.Field("Case", terminal.Plain, x.Readings...)
	rules := slices.Clone(x.Rules)
	if len(rules) > mostRules {
		rules = append(rules[:mostRules], fmt.Sprintf("and %d more; --json has all", len(x.Rules)-mostRules))
	}
	if len(rules) == 0 && x.Then.Load {
		rules = []string{"no sheet differs"}
	}
	p.Field("Rules", terminal.Plain, rules...)
	p.Field("Rules of then", terminal.Plain, x.Then.Says)
}

// mostRules is how many sheets that differ are listed.
const mostRules = 12
