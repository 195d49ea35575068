package replay

import (
	"testing"

	"whystone/engine"
	"whystone/kb"
)

// TestVerdictText: a group is listed with what its sheet says is not determined, as its bare id would say more; the
// words that a verdict of it uses have no say in what counts as a change.
func TestVerdictText(t *testing.T) {
	group := &kb.Material{ID: "diamond", Name: "diamond", Group: true,
		InVerdicts: "consistent with diamond; natural or laboratory-grown not determined"}
	leaf := &kb.Material{ID: "lead-glass", Name: "lead glass"}
	for want, d := range map[string]engine.Decision{
		"identified diamond (natural or laboratory-grown)": {Class: engine.Identified, Named: group},
		"narrowed diamond (natural or laboratory-grown) lead-glass": {Class: engine.Narrowed,
			Nodes: []*kb.Material{group, leaf}},
		"identified lead-glass": {Class: engine.Identified, Named: leaf},
	} {
		if got := verdictText(&d); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
