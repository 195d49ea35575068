package proofread

import (
	"strings"
	"testing"

	"whystone/kb"
	"whystone/kb/box"
)

// TestWitnessIsRun: a case that does not show the defect when the rules are run is no witness.
func TestWitnessIsRun(t *testing.T) {
	rs := above(t, "")
	p := &Pass{Ruleset: rs, On: on, ctx: t.Context(), space: box.NewSpace(rs), run: rs.NewRun(), looks: newLooks(rs)}
	r := rs.Rule("doubled-edges")
	tried := 0
	w, none := p.witness(p.space.Fires(r), "it", func(run *kb.Run) bool {
		tried++
		return !run.Fired(r)
	})
	if w != nil || none || tried == 0 {
		t.Errorf("%v, none for sure: %v, after %d runs", w, none, tried)
	}
	if w, _ := p.witness(p.space.Fires(r), "it", fired(r)); w == nil || !strings.Contains(w.Text, "facet_doubling: \"slight\"") || len(w.Says) != 1 {
		t.Errorf("the rule fires, and it is shown by %v", w)
	}
	if w, none := p.witness(box.False, "it", fired()); w != nil || !none {
		t.Errorf("nothing is so, and it is shown by %v, none for sure: %v", w, none)
	}
}
