package terminal

import (
	"math"
	"reflect"
	"slices"
	"strings"
	"time"

	"whystone/engine"
	"whystone/engine/phrase"
	"whystone/kb/diag"
	"whystone/kb/english"
)

// Drafts says of each draft that has a say in the case what it would change, and last what all would together.
func (t Told) Drafts() []string {
	var out []string
	for _, n := range t.Output.Drafts {
		if n.Rule == nil {
			continue
		}
		says := *n.Rule + " (without effect): " + phrase.Ended(n.Says) + " "
		switch {
		case n.Error != nil:
			says += "It can't be made active: " + wrongSays(n.Error)
		case n.Would == nil:
			says += "If it were active nothing would change here."
		default:
			says += "If it were active it would " + t.wouldSays(n.Would)
		}
		out = append(out, says+t.begins(*n.Rule))
	}
	if all := t.DraftsTogether; all != nil {
		out = append(out, t.togetherSays(all))
	}
	return out
}

func (t Told) togetherSays(all *engine.Together) string {
	head := "All " + english.Count(len(all.Rules), "draft", "drafts") + " of the ruleset together "
	switch {
	case all.Error != nil:
		return head + "can't be made active: " + wrongSays(all.Error)
	case all.Would == nil:
		return head + "would change nothing here."
	}
	return head + "would " + t.wouldSays(all.Would)
}

// begins says when a draft is to be in force, if the case is older.
func (t Told) begins(rule string) string {
	r := t.Ruleset.Rule(rule)
	if r == nil || !t.Moment.On.Before(r.Since) {
		return ""
	}
	return " It is to be in force from " + r.Since.Format(time.DateOnly) + " on, after this case."
}

// wrongSays says why a draft can't be made active, with the place.
func wrongSays(l diag.List) string {
	return phrase.Ended(some(english.Each(l, func(d diag.Diagnostic) string {
		if d.Span.IsZero() {
			return d.Summary
		}
		return d.Summary + " (" + d.Span.String() + ")"
	}), 2))
}

// wouldSays goes on after "it would": what would be told more or less, the verdict, and the answer to the claim.
func (t Told) wouldSays(w *engine.Would) string {
	effects := t.effects(w)
	verdict := "The verdict would be " + phrase.Ended(w.Within)
	if t.Verdict == w.Verdict && reflect.DeepEqual(t.Named, w.Named) && slices.Equal(t.Nodes, w.Nodes) {
		verdict = "The verdict would stay."
	}
	if effects == nil {
		effects = []string{"move the weight of the evidence"}
		if len(w.Toward) > 0 {
			effects[0] += ", most towards " + some(t.namesOf(w.Toward), 4)
		}
	}
	says := []string{phrase.Ended(english.List(effects, "and")), verdict}
	if s := t.supportWould(w); s != "" {
		says = append(says, s)
	}
	if s := t.claimWould(w); s != "" {
		says = append(says, s)
	}
	return strings.Join(says, " ")
}

// effects are what would be told more or less beside the verdict, each as what follows "it would".
func (t Told) effects(w *engine.Would) []string {
	named := func(ids []string) string { return some(t.namesOf(ids), 4) }
	tests := func(ids []string) string { return some(testNames(t.Ruleset, ids), 4) }
	words := func(list []string) string { return some(phrase.InWordsAll(list), 4) }
	quoted := func(list []string) string {
		return strings.Join(english.Each(list, func(says string) string { return `"` + says + `"` }), ", ")
	}
	var out []string
	for _, e := range []struct {
		gain       engine.Gain
		more, less string
		say        func([]string) string
	}{
		{w.Excluded, "exclude ", "no longer exclude ", named},
		{w.SetAside, "set aside ", "no longer set aside ", words},
		{w.SentOn, "send the stone on with ", "no longer send the stone on with ", quoted},
		{w.Cautions, "caution ", "no longer caution ", quoted},
		{w.CallsFor, "call for ", "no longer call for ", tests},
		{w.Forbids, "forbid ", "no longer forbid ", tests},
		{w.Waiting, "leave a rule waiting: ", "leave no rule waiting: ", quoted},
		{w.Faults, "leave a rule that can't be evaluated: ", "mend what can't be evaluated: ", quoted},
	} {
		if len(e.gain.Added) > 0 {
			out = append(out, e.more+e.say(e.gain.Added))
		}
		if len(e.gain.Removed) > 0 {
			out = append(out, e.less+e.say(e.gain.Removed))
		}
	}
	return out
}

// supportWould tells support for the same node when it would move by more than a tenth.
func (t Told) supportWould(w *engine.Would) string {
	if t.Named == nil || w.Named == nil || *t.Named != *w.Named || t.Support == nil || w.Support == nil {
		return ""
	}
	if r := w.Support.Ratio / t.Support.Ratio; math.Abs(math.Log(r)) < math.Log(1.1) {
		return ""
	}
	return "Support over " + materialOf(t.Ruleset, w.Support.Against) + " would be " + phrase.Times(w.Support.Ratio) +
		" instead of " + phrase.Times(t.Support.Ratio) + "."
}

// claimWould tells the answers to the claim that would be others.
func (t Told) claimWould(w *engine.Would) string {
	if t.Claim == nil || w.Claim == nil {
		return ""
	}
	verb := map[string]string{"falls": "be ruled out", "stands": "agree with the readings", "open": "stay open"}
	var who []string
	answer := ""
	if t.Claim.Answer != w.Claim.Answer {
		who, answer = append(who, "the claim"), w.Claim.Answer
	}
	if a, b := t.Claim.GroupAnswer, w.Claim.GroupAnswer; a != nil && b != nil && *a != *b {
		if answer != "" && answer != *b {
			return "The claim would " + verb[answer] + ", and the material claimed would " + verb[*b] + "."
		}
		who, answer = append(who, "the material claimed"), *b
	}
	if who == nil {
		return ""
	}
	return phrase.Capital(english.List(who, "and")) + " would " + verb[answer] + "."
}
