package judging

import (
	"context"
	"encoding/json"
	"fmt"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/terminal"
	"whystone/engine"
	"whystone/engine/diff"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/load"
)

// Then is what was told of a case, and what would be told of it now.
type Then struct {
	Format   int           `json:"format"`
	Case     string        `json:"case"`
	Told     ToldThen      `json:"told"`
	Now      InBrief       `json:"now"`
	Parts    *diff.Parting `json:"parts"`    // the first step at which the two chains part; null when they don't
	Readings []string      `json:"readings"` // what was done to the case since then
	Rules    []string      `json:"rules"`    // the sheets that differ
	Old      RulesOfThen   `json:"rules_of_then"`
}

// ToldThen is the verdict that was told.
type ToldThen struct {
	Version int    `json:"version"`
	At      string `json:"at"`
	By      string `json:"by"`
	InBrief
}

// InBrief is a verdict in brief.
type InBrief struct {
	Says    string `json:"says"`
	Verdict string `json:"verdict"`
	Ruleset string `json:"ruleset"`
	Method  int    `json:"method"`
	AsOf    string `json:"as_of"`
}

// RulesOfThen says what becomes of the rules by which it was told.
type RulesOfThen struct {
	Load bool   `json:"load"` // whether this program can still use them
	Says string `json:"says"`
	// Same tells whether the same readings still give, by the rules of then, what was told. It is null where that can't
	// be asked: another method, or rules that can't be used.
	Same *bool `json:"same"`
}

// chainThen is as much of a chain that was kept as is compared.
type chainThen struct {
	InBrief
	Chain []engine.Step `json:"chain"`
}

// Unissued says that no verdict was issued on a case.
type Unissued struct{ Number string }

func (e *Unissued) Error() string {
	return "no verdict was issued on " + e.Number + ", so there is nothing to compare"
}

// Unreadable says that the rules of today can't read a case.
type Unreadable struct {
	Number string
	Found  diag.List
}

func (e *Unreadable) Error() string { return e.Number + " can't be judged by the rules of today" }

// Since compares what was told of a case with what would be told of it now. An error is [*Unissued], [*Unreadable], or
// what reading the casebook gave.
func Since(ctx context.Context, v casebook.View, st *casebook.State, j *Judging) (*Then, error) {
	last := st.Last()
	if last == nil {
		return nil, &Unissued{st.Number}
	}
	raw, err := casebook.Need(v, last.Chain)
	if err != nil {
		return nil, err
	}
	var then chainThen
	if err := json.Unmarshal(raw, &then); err != nil {
		return nil, fmt.Errorf("the chain that was kept can't be read: %w", err)
	}
	it := Read(j.Ruleset, st)
	if it.Case == nil {
		return nil, &Unreadable{st.Number, it.Found}
	}
	now := j.Of(it.Case)
	out := &Then{Format: 1, Case: st.Number, Rules: []string{},
		Told: ToldThen{Version: last.Event.Version, At: last.Event.At.Format("2006-01-02T15:04:05Z07:00"),
			By: last.Event.By, InBrief: then.InBrief},
		Now:   InBrief{now.Says, now.Verdict, now.Output.Ruleset, now.Method, now.AsOf},
		Parts: diff.Chains(then.Chain, now.Chain)}
	out.Readings = append([]string{}, english.Each(st.Since(last.Event.Version), func(e *casebook.Event) string {
		return fmt.Sprintf("%d  %s", e.Version, terminal.Entry(e, terminal.Deed(e)))
	})...)
	return out, j.rulesThen(ctx, v, st, last, &then, out)
}

// rulesThen loads the rules by which it was told, says what differs, and judges the readings of then by them once more.
func (j *Judging) rulesThen(ctx context.Context, v casebook.View, st *casebook.State, last *casebook.Told,
	then *chainThen, out *Then) error {
	files, err := casebook.Files(v, last.Verdict)
	if err != nil {
		return err
	}
	old, found := load.Build(files)
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case old == nil:
		out.Old.Says = "The rules of then can't be used by this program any more: " + found.Error()
		return nil
	}
	out.Old.Load = true
	out.Rules = append(out.Rules, Changes(j.Ruleset, diff.Rulesets(old, j.Ruleset))...)
	if last.Method != kb.ArithmeticVersion {
		out.Old.Says = fmt.Sprintf("It was told by method %d, and this program judges by method %d: what was told "+
			"can't be reached again, only shown.", last.Method, kb.ArithmeticVersion)
		return nil
	}
	before, err := st.AtVersion(last.Event.Version - 1)
	if err != nil {
		return err
	}
	it := Read(old, before)
	if it.Case == nil {
		out.Old.Says = "The readings of then can't be read by the rules of then: " + it.Found.Error()
		return nil
	}
	asOf, ok := casefile.ParseTime(then.AsOf, old.Policy.Zone)
	if !ok {
		return fmt.Errorf("the chain that was kept can't be read: %q is no date", then.AsOf)
	}
	same := diff.Chains(then.Chain, New(old, &asOf, j.now).Of(it.Case).Chain) == nil
	out.Old.Same = &same
	out.Old.Says = map[bool]string{
		true: "The readings of then, judged by the rules of then, still give what was told.",
		false: "The readings of then, judged by the rules of then, no longer give what was told: the program itself " +
			"has changed.",
	}[same]
	return nil
}
