package eval

import "whystone/kb"

// Mute keeps one rule silent from the next case on: it is as if it were not in force. Nil lets all rules speak again.
//
// The muted rule is one more rule with dates, so that a run without one pays nothing for it.
func (run *Run) Mute(r *kb.Rule) {
	if run.muted >= 0 {
		run.steps[run.muted].dated = run.rs.Order[run.muted].AtTimes()
	}
	if run.muted = -1; r == nil || r.Turn < 0 {
		return
	}
	run.muted = r.Turn
	run.steps[run.muted].dated = true
}
