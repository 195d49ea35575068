// Package eval runs the rules of a ruleset on one case: which hold, what they set aside and establish for one another,
// and why one is undecided. It also tells what follows from a stone before any rule is run: what nobody need read, what
// spoils a reading, how sure one is.
//
// The conditions of all rules are one program, which a [Run] goes through from rule to rule, in an order in which each
// comes after all that it depends on.
package eval

import (
	"slices"
	"time"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/condition"
	"whystone/kb/logic"
	"whystone/kb/quantity"
	"whystone/kb/vocab"
)

// Run is the rules applied to one case. It holds what they read and what came of them, and is used again for the next
// case; one goroutine uses it at a time.
type Run struct {
	State condition.State
	Rules []logic.Value // by place in Ruleset.Order; one not in force fails
	// Excepted tells of a rule whose "if" holds while its "unless" is undecided.
	Excepted []bool
	InForce  []bool
	Faults   []RuleFault
	SetAside []SetAside

	rs       *kb.Ruleset
	steps    []step
	muted    int // a place in Ruleset.Order, or -1
	values   []logic.Value
	faults   []condition.Fault
	fromRays bool // birefringence comes from the two rays of ri

	block *Block // whose lane was taken, or nil
	lane  int
	taken []int // the rules that hold on it
}

// RuleFault is a rule that could not be evaluated.
type RuleFault struct {
	Rule *kb.Rule
	Err  error
}

// SetAside is a reading that a rule says does not count.
type SetAside struct {
	Observable *vocab.Observable
	Rule       *kb.Rule
}

// New makes room for running the rules.
func New(rs *kb.Ruleset) *Run {
	steps := make([]step, len(rs.Order))
	for i, r := range rs.Order {
		steps[i] = step{Compiled: rs.Compiled[i], dated: r.AtTimes(), excepted: r.Unless != nil,
			active: r.Status == kb.Active, follows: len(r.SetsAside)+len(r.Establishes) > 0}
	}
	return &Run{rs: rs, steps: steps, muted: -1, State: condition.State{Slots: make([]condition.Slot, rs.Scope.Len())},
		Rules: make([]logic.Value, len(rs.Order)), Excepted: make([]bool, len(rs.Order)),
		InForce: make([]bool, len(rs.Order)), values: make([]logic.Value, rs.Program.Len())}
}

// Do applies the rules to a case as of a date.
func (run *Run) Do(c *casefile.Case, on time.Time) {
	run.block = nil
	run.fill(c)
	run.Faults, run.SetAside, run.faults = run.Faults[:0], run.SetAside[:0], run.faults[:0]
	run.rs.Program.Begin(&run.State, run.values)
	from := 0
	for i := range run.steps {
		st := &run.steps[i]
		if from < st.End {
			run.rs.Program.Run(&run.State, run.values, from, st.End, &run.faults)
			from = st.End
		}
		if st.dated && (i == run.muted || !run.rs.Order[i].InForce(on)) {
			run.Rules[i], run.Excepted[i], run.InForce[i] = logic.Fails, false, false
			continue
		}
		v := condition.Of(run.values, st.Whole)
		run.Rules[i], run.InForce[i] = v, true
		run.Excepted[i] = v == logic.Undecided && st.excepted && condition.Of(run.values, st.If) == logic.Holds
		if st.active && (st.follows || v == logic.Undecided && len(run.faults) > 0) {
			run.follow(run.rs.Order[i], v)
		}
	}
}

// step is a rule of the order as the run goes through it.
type step struct {
	kb.Compiled
	dated    bool // in force at times only
	excepted bool // has an "unless"
	active   bool
	follows  bool // other rules can see something of it
}

// follow does what other rules can see of a rule's truth.
func (run *Run) follow(r *kb.Rule, v logic.Value) {
	if v == logic.Undecided && len(run.faults) > 0 {
		run.fault(r)
	}
	if v == logic.Holds {
		for _, o := range r.SetsAside {
			run.setAside(o, r)
		}
	}
	for i := range r.Establishes {
		run.establish(&r.Establishes[i], r, v)
	}
}

func (run *Run) setAside(o *vocab.Observable, r *kb.Rule) {
	slot := &run.State.Slots[o.Index]
	if slot.Status == condition.Missing {
		return
	}
	run.SetAside = append(run.SetAside, SetAside{Observable: o, Rule: r})
	if slot.Status == condition.Ready {
		slot.Status, slot.Reason = condition.Aside, r.Says
	}
	if o.Name == vocab.RefractiveIndex && run.fromRays {
		if d := run.rs.Vocabulary.Observable(vocab.Birefringence); d != nil {
			if s := &run.State.Slots[d.Index]; s.Status == condition.Ready {
				s.Status, s.Reason = condition.Aside, r.Says
			}
		}
	}
}

func (run *Run) establish(e *kb.Establishes, r *kb.Rule, v logic.Value) {
	slot := &run.State.Slots[e.Fact.Slot]
	if e.Fact.Kind == vocab.Truth {
		slot.Truth = logic.Or(slot.Truth, v)
		return
	}
	if v != logic.Holds || slot.Status == condition.Clashing {
		return
	}
	if e.Fact.Kind == vocab.Choice {
		set := uint64(1) << e.Word
		if slot.Status == condition.Ready && slot.Set != set {
			slot.Status, slot.Reason = condition.Clashing, "rules disagree"
			return
		}
		slot.Status, slot.Set = condition.Ready, set
		return
	}
	run.establishQuantity(e, r, slot)
}

func (run *Run) establishQuantity(e *kb.Establishes, r *kb.Rule, slot *condition.Slot) {
	var values []quantity.Q
	if err := run.State.Each(e.Expr, func(q quantity.Q) { values = append(values, q) }); err != nil {
		run.Faults = append(run.Faults, RuleFault{Rule: r, Err: err})
		return
	}
	if len(values) == 0 {
		return // a reading that it needs is missing
	}
	if slot.Status == condition.Ready && !run.sameQuantities(slot.Values, values) {
		slot.Status, slot.Reason = condition.Clashing, "rules disagree"
		return
	}
	slot.SetQuantities(&run.State.Context, values...)
}

// sameQuantities tells whether values are alike, their uncertainty included: which rule came first must not matter.
func (run *Run) sameQuantities(a, b []quantity.Q) bool {
	return slices.EqualFunc(a, b, func(x, y quantity.Q) bool {
		lo, hi := x.Interval(&run.State.Context)
		l, h := y.Interval(&run.State.Context)
		return x.Value == y.Value && lo == l && hi == h
	})
}

// fault notes a rule that is undecided because arithmetic failed in it.
func (run *Run) fault(r *kb.Rule) {
	for _, f := range run.faults {
		if run.rs.Program.Rests(run.values, run.steps[r.Turn].Whole, func(n int) bool { return n == f.Node }) {
			run.Faults = append(run.Faults, RuleFault{Rule: r, Err: f.Err})
			return
		}
	}
}

// Causes says why a rule is undecided.
func (run *Run) Causes(r *kb.Rule) []logic.Cause {
	return run.rs.Program.Causes(&run.State, run.values, run.steps[r.Turn].Whole)
}

// fill puts the case into the slots.
func (run *Run) fill(c *casefile.Case) {
	clearSlots(&run.State)
	slots := run.State.Slots
	for _, f := range run.rs.Facts {
		if f.Kind == vocab.Truth {
			slots[f.Slot].Status, slots[f.Slot].Truth = condition.Ready, logic.Fails
		}
	}
	putCase(run.rs, &run.State, c)
	run.fromRays = false
	run.State.Context.U = run.State.Context.U[:0]
	run.State.Context.R = nil
	var index map[int]*vocab.Observable
	if len(c.Correlations) > 0 {
		index = map[int]*vocab.Observable{}
	}
	for _, r := range c.Readings {
		run.reading(r, index)
	}
	if index != nil {
		run.State.Context.R = correlation(c, index)
	}
	run.rays(c)
	for i := range run.rs.Vocabulary.Observables {
		if s := &slots[i]; s.Status == condition.Ready && len(s.Values) > 0 {
			s.SetQuantities(&run.State.Context, s.Values...)
		}
	}
}

func correlation(c *casefile.Case, index map[int]*vocab.Observable) func(i, j int) float64 {
	return func(i, j int) float64 {
		for _, k := range c.Correlations {
			if index[i] == k.A && index[j] == k.B || index[i] == k.B && index[j] == k.A {
				return k.R
			}
		}
		return 0
	}
}

// measured gives a reading its place among the uncertainties.
func (run *Run) measured(o *vocab.Observable, x, u float64, index map[int]*vocab.Observable) quantity.Q {
	i := len(run.State.Context.U)
	run.State.Context.U = append(run.State.Context.U, u)
	if index != nil {
		index[i] = o
	}
	return quantity.Measured(x, i)
}

// useless notes why a reading says nothing, unless another of its observable does. One that the stone spoils is as if
// set aside; of several reasons the same is told whichever comes first.
func (run *Run) useless(slot *condition.Slot, r *casefile.Reading) {
	missing := slot.Status == condition.Missing
	switch {
	case r.Disagrees && (missing || slot.Status == condition.Aside):
		slot.Status, slot.Reason = condition.Clashing, r.Reason
	case r.Spoilt != "" && (missing || slot.Status == condition.Vague):
		slot.Status, slot.Reason = condition.Aside, r.Spoilt
	case r.Spoilt == "" && missing:
		slot.Status, slot.Reason = condition.Vague, r.Reason
	}
}

// reading puts one reading into its slot, beside those of other places.
func (run *Run) reading(r *casefile.Reading, index map[int]*vocab.Observable) {
	slot := &run.State.Slots[r.Observable.Index]
	if !r.Usable() {
		run.useless(slot, r)
		return
	}
	first := slot.Status != condition.Ready
	slot.Status, slot.Reason = condition.Ready, ""
	switch r.Form {
	case casefile.Value:
		slot.Values = append(slot.Values, run.measured(r.Observable, r.Value, r.U, index))
	case casefile.Pair:
		slot.Values = append(slot.Values, run.measured(r.Observable, r.Value, r.U, index),
			run.measured(r.Observable, r.High, r.HighU, index))
	case casefile.Interval:
		slot.Values = append(slot.Values, quantity.Between(r.Lo, r.Hi))
	case casefile.Choice:
		slot.Set |= r.Observable.Meaning(r.Outcome)
	case casefile.Features:
		unseen := r.LookedFor
		unseen.Minus(r.Seen)
		if first {
			slot.Seen, slot.Unseen = r.Seen, unseen
		} else {
			slot.Seen.Intersect(r.Seen)
			slot.Unseen.Intersect(unseen)
		}
	}
}

// rays gives the birefringence where ri was read as two rays and nobody gave it by itself.
func (run *Run) rays(c *casefile.Case) {
	d, ri := run.rs.Vocabulary.Observable(vocab.Birefringence), run.rs.Vocabulary.Observable(vocab.RefractiveIndex)
	if d == nil || ri == nil || run.State.Slots[d.Index].Status != condition.Missing {
		return
	}
	at := 0
	for _, r := range c.Readings {
		if r.Observable.Index != ri.Index || !r.Usable() {
			continue
		}
		values := run.State.Slots[ri.Index].Values
		if r.Form != casefile.Pair {
			at++
			continue
		}
		q, err := quantity.Sub(&run.State.Context, values[at+1], values[at])
		at += 2
		if err != nil {
			continue
		}
		slot := &run.State.Slots[d.Index]
		slot.Status = condition.Ready
		slot.Values = append(slot.Values, q)
		run.fromRays = true
	}
}

// FromRays tells whether the birefringence comes from the two rays of ri.
func (run *Run) FromRays() bool { return run.fromRays }

// Truth is the truth of a condition by itself in the last case, with the causes when it is undecided.
func (run *Run) Truth(c *condition.Condition) (logic.Value, []logic.Cause, error) {
	return condition.Evaluate(c, &run.State)
}

// Fired tells whether a rule fired in the last case.
func (run *Run) Fired(r *kb.Rule) bool { return r.Turn >= 0 && run.Rules[r.Turn] == logic.Holds }

// Mute keeps one rule silent from the next case on: it is as if it were not in force. Nil lets all rules speak again.
//
// The muted rule is from then on one whose dates are looked at, so that a run without one pays nothing for it.
func (run *Run) Mute(r *kb.Rule) {
	if run.muted = -1; r != nil && r.Turn >= 0 {
		run.muted = r.Turn
		run.steps[r.Turn].dated = true
	}
}
