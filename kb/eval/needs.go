package eval

import (
	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/truth"
)

// Needs is what a test asks of a stone and does not find, or does not know.
type Needs struct {
	Missing []string // what the stone has not
	Unknown []string // what the case does not say
}

// Needs looks at what a test needs of the stone of the last case.
func (run *Run) Needs(t *kb.Test) (n Needs) {
	for i := range t.Needs {
		switch need := &t.Needs[i]; on(need, &run.State) {
		case truth.Fails:
			n.Missing = append(n.Missing, need.Says)
		case truth.Undecided:
			n.Unknown = append(n.Unknown, need.Says)
		}
	}
	return n
}

// on is whether a stone meets the need. Of one that can't be evaluated nothing is known.
func on(need *kb.Need, state *condition.State) truth.Value {
	if need.If == nil {
		return truth.Undecided
	}
	is, _, err := condition.Evaluate(need.If, state)
	if err != nil {
		return truth.Undecided
	}
	return is
}

// spoilt is the first need of those that spoil a reading which the stone is known not to meet; empty when there is none.
func spoilt(t *kb.Test, state *condition.State) string {
	for i := range t.Needs {
		if need := &t.Needs[i]; need.Spoils && on(need, state) == truth.Fails {
			return need.Says
		}
	}
	return ""
}

// Feasible tells whether nothing is known to stand in the way.
func (n Needs) Feasible() bool { return len(n.Missing) == 0 }
