package proofread

import (
	"strings"
	"testing"

	"whystone/kb/eval"
	"whystone/kb/sat"
)

// TestWitnessIsRun: a case that does not show the defect when the rules are run is no witness.
func TestWitnessIsRun(t *testing.T) {
	rs := above(t, "")
	p := newPass(t.Context(), rs, on)
	r := rs.Rule("doubled-edges")
	tried := 0
	w, why := p.witness(p.space.Fires(r), "it", func(run *eval.Run) bool {
		tried++
		return !run.Fired(r)
	})
	if w != nil || why != notMade || tried == 0 {
		t.Errorf("%v, %q, after %d runs", w, why, tried)
	}
	if w, _ := p.witness(p.space.Fires(r), "it", fired(r)); w == nil ||
		!strings.Contains(w.Text, "facet_doubling: slight\n") || len(w.Says) != 1 {
		t.Errorf("the rule fires, and it is shown by %v", w)
	}
	if w, why := p.witness(sat.False, "it", fired()); w != nil || why != "" {
		t.Errorf("nothing is so, and it is shown by %v, %q", w, why)
	}
}
