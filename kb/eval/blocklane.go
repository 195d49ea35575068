package eval

import (
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

// Counts is how many lanes there are, odd ones left out, in which the rule at a place in Ruleset.Order holds, and in which it fails.
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

// Take is Do for the case of a lane that is not odd: what a verdict looks at is then as Do leaves it. That is the truth of the rules
// that weigh, send a stone on or keep names back, as far as they hold; which slots are ready, and which colours were read. All
// else is as it was, and not to be looked at.
func (run *Run) Take(b *Block, lane int) {
	run.forget()
	run.block, run.lane = b, lane
	run.taken = append(run.taken[:0], b.held[lane]...)
	for _, i := range run.taken {
		run.Rules[i] = logic.Holds
	}
	for _, r := range b.cases[lane].Readings {
		s := run.takeSlot(r.Observable.Index)
		if r.Form == casefile.Choice && r.Usable() {
			s.Set |= r.Observable.Meaning(r.Outcome)
		}
	}
	if run.fromRays = b.rays.Has(lane); run.fromRays {
		run.takeSlot(run.rs.Vocabulary.Observable(vocab.Birefringence).Index)
	}
}

// takeSlot fills a slot as far as that it is ready, or not.
func (run *Run) takeSlot(slot int) *condition.Slot {
	s := &run.State.Slots[slot]
	s.Status = condition.Aside // or another in which it says nothing
	if run.block.slots[slot].ready.Has(run.lane) {
		s.Status = condition.Ready
	}
	run.slots = append(run.slots, slot)
	return s
}

// forget undoes what was taken last; what was done last it forgets altogether.
func (run *Run) forget() {
	slots := run.slots
	run.slots = run.slots[:0]
	if run.block == nil {
		clearSlots(&run.State)
		clear(run.Rules)
		run.Faults, run.SetAside, run.fromRays = run.Faults[:0], run.SetAside[:0], false
		return
	}
	for _, i := range run.taken {
		run.Rules[i] = logic.Undecided
	}
	for _, slot := range slots {
		s := &run.State.Slots[slot]
		s.Status, s.Set = condition.Missing, 0
	}
}

// Lifted tells whether what the rule at a place in Ruleset.Order withholds is withheld no more. What can't be evaluated lifts nothing.
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
