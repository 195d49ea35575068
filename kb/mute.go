package kb

import "slices"

// Mute keeps one rule silent from the next case on: it is as if it were not in force. Nil lets all rules speak again.
//
// To a run the muted rule is one more rule with dates, so that a run without one pays nothing for it.
func (run *Run) Mute(r *Rule) {
	if run.muted >= 0 {
		run.steps[run.muted].dated = run.rs.steps[run.muted].dated
	}
	if run.muted = -1; r == nil || r.order < 0 {
		return
	}
	if &run.steps[0] == &run.rs.steps[0] {
		run.steps = slices.Clone(run.rs.steps) // the ruleset is everybody's
	}
	run.muted = r.order
	run.steps[run.muted].dated = true
}
