package replay

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"whystone/kb/diag"
	"whystone/kb/english"
)

// Condition is one of a gate: what may not happen when the old ruleset gives way to the new.
type Condition struct {
	Text  string
	limit float64 // the number in its text, if its form has one
	*conditionForm
}

// conditionForm is a sentence in which a condition is written.
type conditionForm struct {
	shape *regexp.Regexp
	says  string
	// of counts the cases that could have broken it: without any it is not kept, as nothing was looked at.
	of counted
	// lists are those that hold the cases for which it is not kept.
	lists []string
	pass  func(t *Tally, limit float64) (ok bool, says string)
}

// counted is how many cases of a kind there are.
type counted struct {
	n    func(*Tally) int64
	what string
}

var (
	anyRecord  = counted{func(t *Tally) int64 { return t.Records }, "record was read"}
	bothJudged = counted{func(t *Tally) int64 { return t.Judged - t.listed(NotByNew) },
		"case was judged by both rulesets"}
	bothClaimed = counted{(*Tally).claimed, "claim was judged by both rulesets"}
	bothKnown   = counted{func(t *Tally) int64 { return t.Pair.Known },
		"case whose truth is known was judged by both rulesets"}
	imitations = counted{func(t *Tally) int64 { return t.Pair.New.Imitations },
		"imitation whose truth is known was judged by both rulesets"}
)

// conditionForms are the sentences in which a gate is written.
var conditionForms = []conditionForm{
	{regexp.MustCompile(`^no new false acceptance$`), "no new false acceptance", imitations, []string{NewlyAccepted},
		noneOn(NewlyAccepted)},
	{regexp.MustCompile(`^no pinned case changed$`), "no pinned case changed", anyRecord,
		[]string{PinnedChanged, pinnedNotFound}, pinsKept},
	{regexp.MustCompile(`^nothing not replayable$`), "nothing not replayable", anyRecord,
		[]string{NotReplayable, NotByNew}, noneOn(NotReplayable, NotByNew)},
	{regexp.MustCompile(`^open rate may rise by at most (\d+(?:\.\d+)?) percentage points?$`),
		"open rate may rise by at most 1 percentage point", bothClaimed, []string{Changed}, openRise},
	{regexp.MustCompile(`^at most (\d+) right to wrong$`), "at most 0 right to wrong", bothKnown,
		[]string{RightToWrong}, rightToWrong},
	{regexp.MustCompile(`^at most (\d+(?:\.\d+)?) percent changed$`), "at most 1 percent changed", bothJudged,
		[]string{Changed}, changedAtMost},
}

// Gate reads the conditions of a policy.
func Gate(texts []string) (gate []Condition, found diag.List) {
	known := english.Each(conditionForms, func(f conditionForm) string { return f.says })
next:
	for _, text := range texts {
		for i := range conditionForms {
			m := conditionForms[i].shape.FindStringSubmatch(strings.ToLower(strings.Join(strings.Fields(text), " ")))
			if m == nil {
				continue
			}
			c := Condition{Text: text, conditionForm: &conditionForms[i]}
			if len(m) > 1 {
				c.limit, _ = strconv.ParseFloat(m[1], 64) // the shape lets numbers through only
			}
			gate = append(gate, c)
			continue next
		}
		d := found.Errorf(diag.BadPolicy, diag.Span{}, "the gate has a condition that is not understood: %q", text)
		d.Nearest = diag.Nearest(text, known)
		d.Detail = "There are: " + strings.Join(known, "; ") + "."
	}
	return gate, found
}

// Check tells whether a replay of two rulesets keeps the condition, and the figures behind it. What was not looked at,
// or not to its end, is not kept.
func (c *Condition) Check(p *Part) (ok bool, says string) {
	if c.of.n(p.Tally) == 0 {
		return false, "it could not be checked: no " + c.of.what
	}
	ok, says = c.pass(p.Tally, c.limit)
	if p.Partial {
		return false, says + "; the replay was interrupted"
	}
	return ok, says
}

func noneOn(lists ...string) func(*Tally, float64) (bool, string) {
	return func(t *Tally, _ float64) (bool, string) {
		ok, says := true, []string{}
		for _, name := range lists {
			n := t.listed(name)
			ok = ok && n == 0
			says = append(says, fmt.Sprintf("%d %s", n, name))
		}
		return ok, strings.Join(says, ", ")
	}
}

// pinsKept: a pinned case that the archive doesn't hold was not looked at, so it is not kept either.
func pinsKept(t *Tally, _ float64) (bool, string) {
	if len(t.Pinned) == 0 {
		return false, "no pinned cases were given"
	}
	changed, missing := 0, 0
	for _, p := range t.Pinned {
		switch {
		case p.Changed > 0:
			changed++
		case p.Seen == 0:
			missing++
		}
	}
	says := fmt.Sprintf("%d of %d pinned cases changed", changed, len(t.Pinned))
	if missing > 0 {
		says += fmt.Sprintf(", %d not found", missing)
	}
	return changed+missing == 0, says
}

func (t *Tally) listed(name string) int64 {
	if l := t.Lists[name]; l != nil {
		return l.Count
	}
	return 0
}

// claimed counts the claims that both rulesets answered, or one of them.
func (t *Tally) claimed() (n int64) {
	for from, row := range t.Pair.Answers {
		for to, k := range row {
			if from != noClaim || to != noClaim {
				n += k
			}
		}
	}
	return n
}

func openRise(t *Tally, limit float64) (bool, string) {
	var before, after int64
	for from, row := range t.Pair.Answers {
		for to, n := range row {
			if from == "open" {
				before += n
			}
			if to == "open" {
				after += n
			}
		}
	}
	all := t.claimed()
	rise := 100 * float64(after-before) / float64(all)
	return rise <= limit, fmt.Sprintf("the open rate moves by %+.2f percentage points, from %d to %d of %d", rise,
		before, after, all)
}

func rightToWrong(t *Tally, limit float64) (bool, string) {
	wrong := t.Pair.RightToWrong
	return float64(wrong) <= limit, fmt.Sprintf("%d of %d right to wrong", wrong, t.Pair.Known)
}

func changedAtMost(t *Tally, limit float64) (bool, string) {
	all := bothJudged.n(t)
	part := 100 * float64(t.Pair.Changed) / float64(all)
	return part <= limit, fmt.Sprintf("%d of %d changed, %.2f percent", t.Pair.Changed, all, part)
}
