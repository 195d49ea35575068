package eval

import (
	"slices"
	"time"

	"whystone/kb/casefile"
	"whystone/kb/condition"
	"whystone/kb/logic"
	"whystone/kb/vocab"
)

// Odd tells whether a lane's case is to be done by a Run alone.
func (b *Block) Odd(lane int) bool { return b.odd.Has(lane) }

// Case is the case of a lane, and the date as of which it is judged.
func (b *Block) Case(lane int) (*casefile.Case, time.Time) { return b.cases[lane], b.on[lane] }

// Truth is that of the rule at a place in Ruleset.Order on a lane that is not odd.
func (b *Block) Truth(rule, lane int) logic.Value {
	t := &b.rules[rule]
	return logic.Value(t.Holds[lane>>6]>>(lane&63)&1 | t.Fails[lane>>6]>>(lane&63)&1<<1)
}

// Held are the places in Ruleset.Order of the rules that hold on a lane, of those that a verdict looks at, rising.
func (b *Block) Held(lane int) []int { return b.held[lane] }

// Counts is how many lanes there are, odd ones left out, in which the rule at a place in Ruleset.Order holds, and in
// which it fails.
func (b *Block) Counts(rule int) (holds, fails int) {
	h, f := b.rules[rule].Holds, b.rules[rule].Fails
	h.Less(&b.odd)
	f.Less(&b.odd)
	for w := range h {
		if left := b.n - w*64; left < 64 {
			mask := uint64(1)<<max(left, 0) - 1
			h[w], f[w] = h[w]&mask, f[w]&mask
		}
	}
	return h.Count(), f.Count()
}

// Plain is how many lanes are not odd.
func (b *Block) Plain() int { return b.n - b.odd.Count() }

// Alike are the lanes of two blocks, of the same cases by two rulesets with the same slots, in which all is alike that
// a verdict looks at: neither is odd, the same acting rules hold and have or have not lifted what they withhold, and
// the same slots are ready. By the place of a rule in the order of b's ruleset, same has that of the one which says as
// much in o's, or -1.
func (b *Block) Alike(o *Block, same []int) (alike condition.Plane) {
	differ := b.odd
	differ.Or(&o.odd)
	other := func(x, y *condition.Plane) {
		for w := range differ {
			differ[w] |= x[w] ^ y[w]
		}
	}
	other(&b.rays, &o.rays)
	for i := range b.rs.Vocabulary.Observables {
		other(&b.slots[i].ready, &o.slots[i].ready)
	}
	for lane := range b.n {
		if !differ.Has(lane) && slices.EqualFunc(b.held[lane], o.held[lane], func(i, k int) bool {
			return same[i] == k && b.lifted[i].Has(lane) == o.lifted[k].Has(lane)
		}) {
			alike.Set(lane)
		}
	}
	return alike
}

// Take is Do for the case of a lane that is not odd: what a verdict looks at is then as Do leaves it. That is the truth
// of the rules that weigh, send a stone on or keep names back, as far as they hold; what Ready, Choices, FromRays and
// Lifted tell. All else is as it was, and not to be looked at.
func (run *Run) Take(b *Block, lane int) {
	run.forget()
	run.block, run.lane = b, lane
	run.taken = append(run.taken[:0], b.held[lane]...)
	for _, i := range run.taken {
		run.Rules[i] = logic.Holds
	}
	run.fromRays = b.rays.Has(lane)
}

// forget undoes what was taken last; what was done last it forgets altogether.
func (run *Run) forget() {
	if run.block == nil {
		clearSlots(&run.State)
		clear(run.Rules)
		run.Faults, run.SetAside, run.fromRays = run.Faults[:0], run.SetAside[:0], false
		return
	}
	for _, i := range run.taken {
		run.Rules[i] = logic.Undecided
	}
}

// Ready tells whether an observable says something: it was read, and not set aside.
func (run *Run) Ready(o *vocab.Observable) bool {
	if run.block != nil {
		return run.block.slots[o.Index].ready.Has(run.lane)
	}
	return run.State.Slots[o.Index].Status == condition.Ready
}

// Choices are the plain choices that the readings of an observable leave open, if it says something.
func (run *Run) Choices(o *vocab.Observable) (set uint64) {
	switch {
	case !run.Ready(o):
	case run.block == nil:
		set = run.State.Slots[o.Index].Set
	default:
		for _, r := range run.block.cases[run.lane].Readings {
			if r.Observable.Index == o.Index && r.Form == casefile.Choice && r.Usable() {
				set |= o.Meaning(r.Outcome)
			}
		}
	}
	return set
}

// Lifted tells whether what the rule at a place in Ruleset.Order withholds is withheld no more. What can't be evaluated
// lifts nothing.
func (run *Run) Lifted(rule int) bool {
	if run.block != nil {
		return run.block.lifted[rule].Has(run.lane)
	}
	until := run.rs.Order[rule].WithheldUntil()
	if until == nil {
		return false
	}
	is, _, err := run.Truth(until)
	return err == nil && is == logic.Holds
}
