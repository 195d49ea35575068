package replay

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"whystone/kb/diag"
)

// Condition is one of a gate: what may not happen when the old ruleset gives way to the new.
type Condition struct {
	Text string
	pass func(*Tally) (ok bool, says string)
	// of counts the cases that could have broken it: without any it is not kept, as nothing was looked at.
	of counted
	// lists are those that hold the cases for which it is not kept.
	lists []string
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
var conditionForms = []struct {
	shape *regexp.Regexp
	says  string
	of    counted
	lists []string
	make  func(limit float64) func(*Tally) (bool, string)
}{
	{regexp.MustCompile(`^no new false acceptance$`), "no new false acceptance", imitations, []string{NewlyAccepted},
		func(float64) func(*Tally) (bool, string) {
			return noneOn(NewlyAccepted)
		}},
	{regexp.MustCompile(`^no pinned case changed$`), "no pinned case changed", anyRecord, []string{PinnedChanged},
		func(float64) func(*Tally) (bool, string) {
			return pinsKept
		}},
	{regexp.MustCompile(`^nothing not replayable$`), "nothing not replayable", anyRecord,
		[]string{NotReplayable, NotByNew}, func(float64) func(*Tally) (bool, string) {
			return noneOn(NotReplayable, NotByNew)
		}},
	{regexp.MustCompile(`^open rate may rise by at most (\d+(?:\.\d+)?) percentage points?$`),
		"open rate may rise by at most 1 percentage point", bothClaimed, []string{Changed}, openRise},
	{regexp.MustCompile(`^at most (\d+) right to wrong$`), "at most 0 right to wrong", bothKnown,
		[]string{RightToWrong}, rightToWrong},
	{regexp.MustCompile(`^at most (\d+(?:\.\d+)?) percent changed$`), "at most 1 percent changed", bothJudged,
		[]string{Changed}, changedAtMost},
}

// Gate reads the conditions of a policy.
func Gate(texts []string, out *diag.List) []Condition {
	var known []string
	for _, f := range conditionForms {
		known = append(known, f.says)
	}
	var gate []Condition
next:
	for _, text := range texts {
		for _, f := range conditionForms {
			m := f.shape.FindStringSubmatch(strings.ToLower(strings.Join(strings.Fields(text), " ")))
			if m == nil {
				continue
			}
			limit := 0.0
			if len(m) > 1 {
				limit, _ = strconv.ParseFloat(m[1], 64) // the shape lets numbers through only
			}
			gate = append(gate, Condition{Text: text, pass: f.make(limit), of: f.of, lists: f.lists})
			continue next
		}
		d := out.Errorf(diag.BadPolicy, diag.Span{}, "the gate has a condition that is not understood: %q", text)
		d.Nearest = diag.Nearest(text, known)
		d.Detail = "There are: " + strings.Join(known, "; ") + "."
	}
	return gate
}

// Check tells whether a replay of two rulesets keeps the condition, and the figures behind it. What was not looked at,
// or not to its end, is not kept.
func (c *Condition) Check(p *Part) (ok bool, says string) {
	if c.of.n(p.Tally) == 0 {
		return false, "it could not be checked: no " + c.of.what
	}
	ok, says = c.pass(p.Tally)
	if p.Partial {
		return false, says + "; the replay was interrupted"
	}
	return ok, says
}

func noneOn(lists ...string) func(*Tally) (bool, string) {
	return func(t *Tally) (bool, string) {
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
func pinsKept(t *Tally) (bool, string) {
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

func openRise(limit float64) func(*Tally) (bool, string) {
	return func(t *Tally) (bool, string) {
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
}

func rightToWrong(limit float64) func(*Tally) (bool, string) {
	return func(t *Tally) (bool, string) {
		return float64(t.Pair.RightToWrong) <= limit, fmt.Sprintf("%d of %d right to wrong", t.Pair.RightToWrong,
			t.Pair.Known)
	}
}

func changedAtMost(limit float64) func(*Tally) (bool, string) {
	return func(t *Tally) (bool, string) {
		all := bothJudged.n(t)
		part := 100 * float64(t.Pair.Changed) / float64(all)
		return part <= limit, fmt.Sprintf("%d of %d changed, %.2f percent", t.Pair.Changed, all, part)
	}
}
