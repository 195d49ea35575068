package next

import (
	"slices"
	"strings"
	"time"

	"whystone/engine"
	"whystone/engine/answers"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/english"
)

// notDone lists the tests that are not suggested, with the reason.
func (b *bench) notDone(a *Advice) {
	for _, t := range b.e.Ruleset.Tests {
		add := func(to *[]NotDone, code phrase.Code, needs []string, rules ...*kb.Rule) {
			r := phrase.Reason{Code: code, Tests: []*kb.Test{t}, Rules: rules, Text: strings.Join(needs, " ")}
			n := NotDone{Test: t.ID, Name: t.Name, Need: needs, Told: r.Told()}
			if len(rules) > 0 {
				n.Rule = rules[0].ID
			}
			*to = append(*to, n)
		}
		switch needs := b.needs[t]; {
		case t.Harm == kb.Marks:
			add(&a.Harmful, phrase.DoesMark, nil)
		case t.Harm == kb.Destroys:
			add(&a.Harmful, phrase.DoesDestroy, nil)
		case len(b.forbids[t.ID]) > 0:
			add(&a.Forbidden, phrase.HouseBars, nil, b.forbids[t.ID][0])
		case !needs.Feasible():
			add(&a.Infeasible, phrase.StoneLacks, needs.Missing)
		case slices.Contains(b.opts.Lacks, t.ID):
			add(&a.Infeasible, phrase.HouseLacks, nil)
		}
	}
}

// act decides what to do and says so.
func (b *bench) act(on time.Time, a *Advice, found []suggestion) {
	first := slices.IndexFunc(found, func(s suggestion) bool { return b.helps(&s) })
	settled := b.base.settled()
	verdict := b.base.decision.Reason()
	test := func(code phrase.Code) {
		says := append([]phrase.Reason{{Code: code, Why: &verdict, Tests: []*kb.Test{found[first].test}}},
			a.Tests[first].reasons...)
		a.Action, a.Told = Test, says[0].Told()
		a.Says = phrase.Sentences(says)
	}
	switch {
	case b.base.decision.Faulty:
		a.do(Stop, phrase.Reason{Code: phrase.StopMend})
	case b.doubted():
		b.repeat(on, a)
	case len(b.sentOn) > 0:
		a.do(Laboratory, phrase.Reason{Code: phrase.LabByRule, Rules: b.sentOn})
		a.Because = english.Each(b.sentOn, func(r *kb.Rule) string { return r.SendsOn })
	case settled && (first < 0 || a.Tests[first].Net <= 0):
		a.do(Stop, phrase.Reason{Code: phrase.StopSettled, Why: &verdict})
	case settled:
		test(phrase.Surer)
	case first >= 0 && b.furthers(found):
		test(phrase.NextTest)
	default:
		b.laboratory(a, &verdict)
	}
}

// do says what to do, and why.
func (a *Advice) do(action Action, r phrase.Reason) { a.Action, a.Told = action, r.Told() }

// helps tells whether a test tells anything, alone or before another.
func (b *bench) helps(s *suggestion) bool {
	return s.best().tells(&b.cost) || s.then != nil && s.then.better > decides
}

// furthers tells whether anything that the house can do can bring the verdict further: a test, two of them, or all of
// them together.
func (b *bench) furthers(found []suggestion) bool {
	return slices.ContainsFunc(found, func(s suggestion) bool {
		return s.best().better > decides || s.then != nil && s.then.better > decides
	}) || b.reach()
}

// repeat says which readings to take again where they contradict each other, or fit nothing that is listed.
func (b *bench) repeat(on time.Time, a *Advice) {
	b.players[0].play(b.c)
	d := &b.base.decision
	without, why := phrase.NoLongerFight, answers.Contradicts(d)
	if d.NotListed != engine.Listed {
		without = phrase.FitsListed
	}
	for _, r := range b.players[0].judge.Repeats(b.c, on, d) {
		a.Repeat = append(a.Repeat, RepeatFirst{Readings: r.Readings, Told: phrase.Reason{Code: without,
			Observables: r.Readings}.Told()})
	}
	if len(a.Repeat) == 0 {
		a.do(Laboratory, phrase.Reason{Code: phrase.LabNoRepeat, Why: &why})
		return
	}
	again := phrase.Reason{Code: phrase.AgainFirst, Observables: a.Repeat[0].Readings, Why: &why}
	if d.NotListed != engine.Listed {
		again.Then = []phrase.Reason{{Code: phrase.ElseLaboratory}}
	}
	a.do(Repeat, again)
}

// laboratory says why the house can't settle it.
func (b *bench) laboratory(a *Advice, verdict *phrase.Reason) {
	d, kept := &b.base.decision, b.kept()
	says := phrase.Reason{Why: verdict}
	action := Laboratory
	switch {
	case d.Class == engine.Identified && len(d.RestsOnPriors) > 0:
		says.Code, says.Other = phrase.LabSure, d.RestsOnPriors[0]
	case d.Class == engine.Identified && len(kept) > 0:
		says.Code = phrase.LabCloser
	case d.Class == engine.Identified:
		says.Code = phrase.LabClaim
	case d.Class == engine.Narrowed:
		says.Code = phrase.LabOneOf
	case len(kept) > 0:
		says.Code = phrase.LabWithheld
	case d.Claim.Claim != nil && d.Claim.Answer == engine.Falls:
		says.Code, action = phrase.StopNameless, Stop
	default:
		if says.Code, says.Nodes = phrase.LabUndecided, b.likeliestTwo(); len(says.Nodes) == 0 {
			says.Code = phrase.LabUnlisted
		}
	}
	a.do(action, says)
	a.Because = append(a.Because, english.Each(kept, func(r *kb.Rule) string { return r.Says })...)
	if d.Class == engine.Identified && d.Claim.Answer == engine.Open {
		b.players[0].play(b.c)
		claim := b.players[0].judge.ClaimReason(b.c, d)
		claim.Then = nil // the group's answer is not asked for
		a.Because = append(a.Because, claim.Says())
	}
	if n := len(a.Infeasible); n > 0 {
		a.Because = append(a.Because, phrase.Reason{Code: phrase.Infeasible, Count: n}.Says())
	}
}

// kept are the rules that keep a closer name back.
func (b *bench) kept() []*kb.Rule {
	b.players[0].play(b.c)
	return b.players[0].judge.KeptFromName(&b.base.decision)
}

// suggested says what a test is for.
func (b *bench) suggested(s *suggestion, told *Suggestion, parts [][]*kb.Material) []phrase.Reason {
	test := []*kb.Test{s.test}
	says := []phrase.Reason{{Code: phrase.TestAlone, Tests: test}}
	add := func(r phrase.Reason) { says = append(says, r) }
	switch {
	case s.test.Minutes == 1:
		says[0].Code = phrase.TestMinute
	case s.test.Minutes > 0:
		says[0].Code, says[0].Text = phrase.TestMinutes, phrase.Figures(s.test.Minutes)
	}
	if f := s.best().look; f.feature >= 0 {
		add(phrase.Reason{Code: phrase.LookFor, Text: f.source.Observable.Outcomes[f.feature].Name})
	}
	switch {
	case told.Again && told.TellsNothing:
		add(phrase.Reason{Code: phrase.AgainNothing})
	case told.TellsNothing && s.then == nil:
		add(phrase.Reason{Code: phrase.TellsNothing})
	case len(parts) > 0:
		add(tells(parts))
	case told.Again:
		add(phrase.Reason{Code: phrase.AgainSharper})
	case told.Further <= 0.1:
		add(phrase.Reason{Code: phrase.HelpsLittle})
	}
	switch {
	case told.Further > 0.5:
		add(phrase.Reason{Code: phrase.MostLikely})
	case told.Further > 0.1:
		add(phrase.Reason{Code: phrase.MayWell})
	case s.then != nil && s.then.better > decides:
		add(phrase.Reason{Code: phrase.FollowedBy, Tests: []*kb.Test{s.then.second}})
	}
	if len(told.Asks) > 0 {
		add(phrase.Reason{Code: phrase.AskFirst, Text: strings.Join(told.Asks, " ")})
	}
	return says
}

// most is how many groups a sentence names before it leaves the rest.
const most = 3

// tells are the groups that a test tells apart: "a and b from c, from d and from e".
func tells(groups [][]*kb.Material) phrase.Reason {
	r := phrase.Reason{Code: phrase.TellsFrom, Nodes: groups[0], Then: english.Each(groups[1:],
		func(g []*kb.Material) phrase.Reason { return phrase.Reason{Code: phrase.FromNodes, Nodes: g} })}
	if len(r.Then) > most {
		r.Then = append(r.Then[:most-1], phrase.Reason{Code: phrase.FromOthers})
	}
	return r
}
