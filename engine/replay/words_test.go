package replay

import (
	"testing"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/diag"
)

// TestVerdictText: a group is listed with what its sheet says is not determined, as its bare id would say more; the
// words that a verdict of it uses have no say in what counts as a change. People are told names.
func TestVerdictText(t *testing.T) {
	group := &kb.Material{ID: "diamond", Name: "diamond", Group: true,
		InVerdicts: "consistent with diamond; natural or laboratory-grown not determined"}
	leaf := &kb.Material{ID: "lead-glass", Name: "lead glass"}
	for _, x := range []struct {
		ids, names string
		d          engine.Decision
	}{
		{"identified diamond (natural or laboratory-grown)", "identified as diamond (natural or laboratory-grown)",
			engine.Decision{Class: engine.Identified, Named: group}},
		{"narrowed diamond (natural or laboratory-grown) lead-glass",
			"narrowed to diamond (natural or laboratory-grown) or lead glass",
			engine.Decision{Class: engine.Narrowed, Nodes: []*kb.Material{group, leaf}}},
		{"identified lead-glass, a name kept back", "identified as lead glass, a name kept back",
			engine.Decision{Class: engine.Identified, Named: leaf, KeptBack: []*kb.Rule{{ID: "r"}}}},
	} {
		if ids, names := verdictText(&x.d), verdictSays(&x.d); ids != x.ids || names != x.names {
			t.Errorf("%q and %q, want %q and %q", ids, names, x.ids, x.names)
		}
	}
}

// TestReason: why a record can't be read is told with its column, of a table by name, whatever the file is called.
func TestReason(t *testing.T) {
	line := diag.NewSource("a, b.jsonl:3", []byte(`{"ri": 9}`))
	cell := &diag.Source{Name: `a, b.csv:3, column "ri"`, Key: "ri"}
	var found diag.List
	found.Warnf("x", diag.Span{Source: line}, "passed over")
	found.Errorf("x", diag.Span{Source: line, Start: 7}, "nine")
	found.Errorf("x", diag.Span{Source: cell}, "ten").Nearest = "one"
	found.Errorf("x", diag.Span{}, "nowhere")
	found.Errorf("x", diag.Span{}, "one too many")
	const want = `column 8: nine; column "ri": ten; did you mean "one"?; nowhere`
	if got := reason(found); got != want {
		t.Errorf("%s, want %s", got, want)
	}
}
