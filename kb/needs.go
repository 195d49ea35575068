package kb

import (
	"whystone/kb/condition"
	"whystone/kb/truth"
)

// Needs is what a test asks of a stone and does not find, or does not know.
type Needs struct {
	Missing []string // what the stone has not
	Unknown []string // what the case does not say
}

// NeedsOn looks at what a test needs. The state is that of a run of the rules over the case.
func (t *Test) NeedsOn(state *condition.State) Needs {
	var n Needs
	for _, need := range t.Needs {
		is := truth.Undecided
		if need.If != nil {
			// A need that can't be evaluated is one of which nothing is known.
			is, _, _ = condition.Evaluate(need.If, state)
		}
		switch is {
		case truth.Fails:
			n.Missing = append(n.Missing, need.Says)
		case truth.Undecided:
			n.Unknown = append(n.Unknown, need.Says)
		}
	}
	return n
}

// Feasible tells whether nothing is known to stand in the way.
func (n Needs) Feasible() bool { return len(n.Missing) == 0 }
