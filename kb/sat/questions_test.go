package sat

import (
	"fmt"
	"slices"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/eval"
	kleene "whystone/kb/logic"
)

// question is one and the same question put to kb/sat (formula), to a case that was run (of), and to the solver (smt).
type question struct {
	kind    string
	name    string
	formula *Formula
	of      func(state) bool
	smt     string
}

// state is what came of running the rules on one case.
type state struct {
	rules []kleene.Value // by place in the base
	there uint           // readings that were made, set aside or not, by place in the list of them
	sharp bool           // all are one point, one choice, a plain answer
}

func (s state) is(rule int, v kleene.Value) bool { return s.rules[rule] == v }

// stateOf reads a run.
func (b *base) stateOf(rs *kb.Ruleset, run *eval.Run) state {
	s := state{rules: make([]kleene.Value, len(b.rules))}
	for i, r := range b.rules {
		s.rules[i] = run.Rules[rs.Rule(r.id).Turn]
	}
	for i, name := range readings {
		switch run.State.Slots[rs.Vocabulary.Observable(name).Index].Status {
		case condition.Ready, condition.Aside:
			s.there |= 1 << i
		}
	}
	return s
}

// questions are those of every rule, and of every pair of rules.
func (b *base) questions(rs *kb.Ruleset, s *Space) []question {
	var out []question
	add := func(kind, name string, f *Formula, of func(state) bool, smt string) {
		out = append(out, question{kind, name, f, of, smt})
	}
	fires, fails := make([]*Formula, len(b.rules)), make([]*Formula, len(b.rules))
	for i, r := range b.rules {
		fires[i], fails[i] = s.Fires(rs.Rule(r.id)), s.Fails(rs.Rule(r.id))
	}
	fired, failed := func(i int) string { return fmt.Sprintf("fires_%d", i) },
		func(i int) string { return fmt.Sprintf("fails_%d", i) }
	for i, r := range b.rules {
		add("fires", r.id, fires[i], func(s state) bool { return s.is(i, kleene.Holds) }, fired(i))
		add("fails", r.id, fails[i], func(s state) bool { return s.is(i, kleene.Fails) }, failed(i))
		add("open", r.id, And(Not(fires[i]), Not(fails[i])), func(s state) bool { return s.is(i, kleene.Undecided) },
			"(and (not "+fired(i)+") (not "+failed(i)+"))")
		for j, o := range b.rules[:i] {
			add("overlap", r.id+" and "+o.id, And(fires[i], fires[j]),
				func(s state) bool { return s.is(i, kleene.Holds) && s.is(j, kleene.Holds) },
				"(and "+fired(i)+" "+fired(j)+")")
			for _, p := range [][2]int{{i, j}, {j, i}} { // what is asked for is a case against it
				add("implies", b.rules[p[0]].id+" without "+b.rules[p[1]].id, And(fires[p[0]], Not(fires[p[1]])),
					func(s state) bool { return s.is(p[0], kleene.Holds) && !s.is(p[1], kleene.Holds) },
					"(and "+fired(p[0])+" (not "+fired(p[1])+"))")
			}
		}
	}
	return append(out, b.gaps(rs, s, fires)...)
}

// gaps asks, as for a table, for cases in which all that some rules read was read and none of the rules fires.
func (b *base) gaps(rs *kb.Ruleset, s *Space, fires []*Formula) []question {
	var out []question
	for from := range b.rules {
		var reads []string
		for _, r := range b.rules[from:] {
			reads = append(reads, r.reads()...)
		}
		q := question{kind: "gap", name: fmt.Sprintf("rules %d and on", from)}
		var there uint
		var parts []*Formula
		for i, name := range readings {
			if slices.Contains(reads, name) {
				there |= 1 << i
				parts = append(parts, s.Read(rs.Vocabulary.Observable(name)))
				q.smt += " (= st_" + name + " 2)"
			}
		}
		for i := range b.rules[from:] {
			parts = append(parts, Not(fires[from+i]))
			q.smt += fmt.Sprintf(" (not fires_%d)", from+i)
		}
		q.smt = "(and true" + q.smt + ")"
		q.formula = And(parts...)
		q.of = func(s state) bool { return s.there&there == there && !slices.Contains(s.rules[from:], kleene.Holds) }
		out = append(out, q)
	}
	return out
}

// tally counts the answers of each kind of question.
type tally map[string]*[2]int

func (t tally) count(kind string, mode Mode, yes bool) {
	if mode == Sharp {
		kind += ", sharp"
	}
	if t[kind] == nil {
		t[kind] = &[2]int{}
	}
	if yes {
		t[kind][1]++
	} else {
		t[kind][0]++
	}
}

// atLeast fails a test that asked too few questions of some kind that are answered one way, or the other.
func (t tally) atLeast(tb interface{ Errorf(string, ...any) }, least int) {
	kinds := []string{"fires", "fails", "open", "overlap", "implies", "gap"}
	for _, k := range slices.Clone(kinds) {
		kinds = append(kinds, k+", sharp")
	}
	for _, k := range kinds {
		if n := t[k]; n == nil || n[0] < least || n[1] < least {
			tb.Errorf("%s: no and yes %v times; the bases are too easy", k, n)
		}
	}
}
