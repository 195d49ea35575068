package coverage_test

import (
	"slices"
	"strings"
	"testing"

	"whystone/engine"
	"whystone/engine/coverage"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/logic"
)

// naive counts by plain loops.
type naive struct {
	run   *eval.Run
	cases int
	rules map[string]*naiveRule
}

type naiveRule struct {
	coverage.Count
	rule   *kb.Rule
	heldIn []int // numbers of cases
	parts  []*naivePart
}

// naivePart is a part of a condition as naive counting finds it: a leaf's text.
type naivePart struct {
	coverage.PartCount
	cond           *condition.Condition
	exception      bool
	start, end     int
	alone, spliced *condition.Condition
	open           int // the slot of the name that spliced has in the part's place
}

func newNaive(t *testing.T, e *engine.Engine) *naive {
	t.Helper()
	all := &naive{run: eval.New(e.Ruleset), rules: map[string]*naiveRule{}}
	for _, r := range e.Ruleset.Order {
		n := &naiveRule{rule: r, parts: writtenParts(r)}
		all.rules[r.ID] = n
		scope := e.Ruleset.Scope
		for i, p := range n.parts {
			for _, name := range []string{"stone.coated", "stone.wet", "stone.warm", "stone.mounted"} {
				if s := scope.Symbol(name).Slot; !slices.Contains(r.Slots(), s) {
					p.open = s
				}
			}
			p.alone = compile(t, scope, p.cond.Text[p.start:p.end])
			p.spliced = compile(t, scope, splice(n.parts, i, scope.At(p.open).Name))
		}
	}
	return all
}

func writtenParts(r *kb.Rule) (out []*naivePart) {
	for _, c := range []*condition.Condition{r.If, r.Unless} {
		if c == nil {
			continue
		}
		for _, n := range c.Leaves() {
			if !slices.ContainsFunc(out, func(p *naivePart) bool {
				return p.cond == c && p.start == n.Start &&
					p.end == n.End
			}) {
				out = append(out, &naivePart{cond: c, exception: c == r.Unless, start: n.Start, end: n.End})
			}
		}
	}
	return out
}

// splice writes a condition with a name in place of a part. The comparisons of a chain (1.70 <= ri < 1.80) share what
// stands between them, so that a chain is written out first.
func splice(parts []*naivePart, at int, name string) string {
	p := parts[at]
	from, to := at, at+1
	for from > 0 && parts[from-1].cond == p.cond && parts[from-1].end > parts[from].start {
		from--
	}
	for to < len(parts) && parts[to].cond == p.cond && parts[to].start < parts[to-1].end {
		to++
	}
	var texts []string
	for i, q := range parts[from:to] {
		text := q.cond.Text[q.start:q.end]
		if from+i == at {
			text = name
		}
		texts = append(texts, text)
	}
	return p.cond.Text[:parts[from].start] + " (" + strings.Join(texts, " and ") + ") " + p.cond.Text[parts[to-1].end:]
}

func (all *naive) add(t *testing.T, c *casefile.Case) {
	t.Helper()
	run := all.run
	run.Do(c, date(c))
	for _, n := range all.rules {
		r := n.rule
		switch {
		case !r.InForce(date(c)):
			n.NotInForce++
			continue
		case slices.ContainsFunc(run.Faults, func(f eval.RuleFault) bool { return f.Rule == r }):
			n.Faults++
		case run.Rules[r.Turn] == logic.Holds:
			n.Held++
			n.heldIn = append(n.heldIn, all.cases)
		case run.Rules[r.Turn] == logic.Fails:
			n.Failed++
		default:
			n.Undecided++
		}
		for _, p := range n.parts {
			p.add(t, r, &run.State)
		}
	}
	all.cases++
}

// add looks at one case: the part's truth is that of its text by itself, and it decides when the condition with a name
// that nobody gives in its place comes to another truth.
func (n *naivePart) add(t *testing.T, r *kb.Rule, s *condition.State) {
	t.Helper()
	switch evaluate(t, n.alone, s) {
	case logic.Holds:
		n.Held++
	case logic.Fails:
		n.Failed++
	default:
		n.Undecided++
		return
	}
	when, unless := evaluate(t, r.If, s), logic.Fails
	if r.Unless != nil {
		unless = evaluate(t, r.Unless, s)
	}
	whole := logic.And(when, logic.Not(unless))
	was := s.Slots[n.open]
	s.Slots[n.open] = condition.Slot{}
	defer func() { s.Slots[n.open] = was }()
	if n.exception {
		unless = evaluate(t, n.spliced, s)
	} else {
		when = evaluate(t, n.spliced, s)
	}
	if logic.And(when, logic.Not(unless)) != whole {
		n.Decided++
	}
}

// evaluate is the truth of a condition; none always holds.
func evaluate(t *testing.T, c *condition.Condition, s *condition.State) logic.Value {
	t.Helper()
	if c == nil {
		return logic.Holds
	}
	v, _, err := condition.Evaluate(c, s)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func compile(t *testing.T, scope *condition.Scope, text string) *condition.Condition {
	t.Helper()
	var found diag.List
	c := condition.Compile(text, func(int, int) diag.Span { return diag.Span{} }, scope, &found)
	if c == nil {
		t.Fatalf("%q: %v", text, found)
	}
	return c
}
