package drafts

import (
	"math"
	"reflect"
	"slices"
	"strings"
	"time"

	"whystone/engine"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/english"
)

// Reasons tell of each draft that has a say in a case, which was judged as of a date, what it would change; and last
// what all would together.
func Reasons(rs *kb.Ruleset, on time.Time, was *engine.Output) []phrase.Reason {
	t := telling{rs, was}
	var out []phrase.Reason
	for _, n := range was.Drafts {
		r := rs.Rule(*n.Rule)
		says := phrase.Reason{Code: phrase.DraftNoted, Rules: []*kb.Rule{r}, Text: n.Says,
			Then: t.comes([3]phrase.Code{phrase.DraftWrong, phrase.DraftIdle, phrase.DraftActs}, n.Error, n.Would)}
		if on.Before(r.Since) {
			says.Then = append(says.Then, phrase.Reason{Code: phrase.DraftBegins, Text: r.Since.Format(time.DateOnly)})
		}
		out = append(out, says)
	}
	if all := was.DraftsTogether; all != nil {
		out = append(out, phrase.Reason{Code: phrase.DraftsTogether, Count: len(all.Rules),
			Then: t.comes([3]phrase.Code{phrase.AllWrong, phrase.AllIdle, phrase.AllAct}, all.Error, all.Would)})
	}
	return out
}

// telling tells what would become of a verdict.
type telling struct {
	rs  *kb.Ruleset
	was *engine.Output
}

// comes tells what comes of drafts that are made active, by one of three codes: why they can't be, that nothing would
// change, or what would.
func (t *telling) comes(codes [3]phrase.Code, wrong diag.List, w *engine.Would) []phrase.Reason {
	switch {
	case wrong != nil:
		return []phrase.Reason{{Code: codes[0], Text: phrase.Some(english.Each(wrong, placed), 2)}}
	case w == nil:
		return []phrase.Reason{{Code: codes[1]}}
	}
	verdict := phrase.Reason{Code: phrase.VerdictWould, Text: w.Within}
	if t.was.Verdict == w.Verdict && reflect.DeepEqual(t.was.Named, w.Named) && slices.Equal(t.was.Nodes, w.Nodes) {
		verdict.Code = phrase.VerdictStays
	}
	out := []phrase.Reason{{Code: codes[2], Then: t.effects(w)}, verdict}
	return slices.Concat(out, t.support(w), claim(t.was.Claim, w.Claim))
}

// placed is what is wrong with a draft, with the place.
func placed(d diag.Diagnostic) string {
	if d.Span.IsZero() {
		return d.Summary
	}
	return d.Summary + " (" + d.Span.String() + ")"
}

// mostNamed is how many things are named of those that would be told more or less.
const mostNamed = 4

// effects are what would be told more or less beside the verdict.
func (t *telling) effects(w *engine.Would) []phrase.Reason {
	named := func(ids []string) string { return phrase.Some(phrase.NamesOf(t.rs, ids), mostNamed) }
	tests := func(ids []string) string { return phrase.Some(phrase.TestsByName(t.rs, ids), mostNamed) }
	words := func(list []string) string { return phrase.Some(phrase.InWordsAll(list), mostNamed) }
	quoted := func(list []string) string {
		return strings.Join(english.Each(list, func(says string) string { return `"` + says + `"` }), ", ")
	}
	var out []phrase.Reason
	add := func(code phrase.Code, list []string, say func([]string) string) {
		if len(list) > 0 {
			out = append(out, phrase.Reason{Code: code, Text: say(list)})
		}
	}
	for _, e := range []struct {
		gain       engine.Gain
		more, less phrase.Code
		say        func([]string) string
	}{
		{w.Excluded, phrase.WouldExclude, phrase.WouldNotExclude, named},
		{w.SetAside, phrase.WouldSetAside, phrase.WouldNotSetAside, words},
		{w.SentOn, phrase.WouldSendOn, phrase.WouldNotSendOn, quoted},
		{w.Cautions, phrase.WouldCaution, phrase.WouldNotCaution, quoted},
		{w.CallsFor, phrase.WouldCallFor, phrase.WouldNotCallFor, tests},
		{w.Forbids, phrase.WouldForbid, phrase.WouldNotForbid, tests},
		{w.Waiting, phrase.WouldLeaveWaiting, phrase.WouldLeaveNone, quoted},
		{w.Faults, phrase.WouldFault, phrase.WouldMend, quoted},
	} {
		add(e.more, e.gain.Added, e.say)
		add(e.less, e.gain.Removed, e.say)
	}
	if out == nil {
		out = []phrase.Reason{{Code: phrase.WouldMove}}
		if len(w.Toward) > 0 {
			out[0].Then = []phrase.Reason{{Code: phrase.MostTowards, Text: named(w.Toward)}}
		}
	}
	return out
}

// support tells support for the same node when it would move by more than a tenth.
func (t *telling) support(w *engine.Would) []phrase.Reason {
	was, is := t.was.Support, w.Support
	if t.was.Named == nil || w.Named == nil || *t.was.Named != *w.Named || was == nil || is == nil ||
		math.Abs(math.Log(is.Ratio/was.Ratio)) < math.Log(1.1) {
		return nil
	}
	r := phrase.Reason{Code: phrase.SupportWould, Other: phrase.NodeOf(t.rs, is.Against), Ratio: is.Ratio,
		Text: phrase.Times(was.Ratio)}
	if r.Other == nil {
		r.Code = phrase.SupportWouldAny
	}
	return []phrase.Reason{r}
}

// claimTo is what becomes of a claim, by the answer.
var claimTo = map[string]phrase.Code{"falls": phrase.BeRuledOut, "stands": phrase.AgreeWith, "open": phrase.StayOpen}

// claim tells the answers to the claim that would be others.
func claim(was, is *engine.ClaimOutput) []phrase.Reason {
	if was == nil || is == nil {
		return nil
	}
	a, b := was.GroupAnswer, is.GroupAnswer
	own, group := was.Answer != is.Answer, a != nil && b != nil && *a != *b
	to := phrase.Reason{Code: claimTo[is.Answer]}
	switch {
	case own && group && is.Answer != *b:
		return []phrase.Reason{{Code: phrase.ClaimAndGroup, Why: &to, Then: []phrase.Reason{{Code: claimTo[*b]}}}}
	case own && group:
		return []phrase.Reason{{Code: phrase.BothWould, Why: &to}}
	case own:
		return []phrase.Reason{{Code: phrase.ClaimWould, Why: &to}}
	case group:
		to.Code = claimTo[*b]
		return []phrase.Reason{{Code: phrase.GroupWould, Why: &to}}
	}
	return nil
}
