package rulesets_test

import (
	"strings"
	"testing"

	"whystone/engine"
	"whystone/kb"
)

// Source: pleochroic_colours.csv. What a page prints of the two or three colours of a stone is on the sheet of its
// material, as seen; and who reads just these colours on such a stone does not have it excluded.
func TestPublishedPleochroicColoursAreOnTheSheets(t *testing.T) {
	rs, j := gemDesk(t), gemJudge(t)
	materials := map[string]bool{}
	for _, row := range published(t, "pleochroic_colours.csv") {
		what := row["material"] + ", " + row["printed"] + " (" + row["source"] + ")"
		m := rs.Node(row["material"])
		if m == nil || row["status"] != "opened" {
			t.Errorf("%s: no such material, or no page was opened", what)
			continue
		}
		materials[m.ID] = true
		colours := strings.Split(row["colours"], "; ")
		var d engine.Decision
		j.Decide(caseOf(t, rs, map[string]any{"readings": map[string]any{"colour": row["colour"],
			"pleochroic_colours": colours}}), judgedOn, &d)
		excluded := 0
		for _, i := range m.Leaves {
			leaf := rs.Leaves[i]
			for _, colour := range colours {
				if w := outcomeWord(leaf, "pleochroic_colours", colour); w == "" || w == kb.Never {
					t.Errorf("%s: the sheet of %s says %q of %q", what, leaf.ID, w, colour)
				}
			}
			if j.Excluded(i) {
				excluded++
			}
		}
		if excluded == len(m.Leaves) {
			t.Errorf("%s: its own colours exclude it", what)
		}
	}
	if len(materials) < 20 {
		t.Errorf("only %d materials checked", len(materials))
	}
}

// A colour that is called by the name of the next one is excluded by no sheet, and one that is on no sheet of the
// neighbourhood is: red in the dichroscope is of no emerald, and bluish green is of no thing that shows green.
func TestAColourMayBeCalledByItsNeighbour(t *testing.T) {
	rs := gemDesk(t)
	o := rs.Vocabulary.Observable("pleochroic_colours")
	for i, c := range o.Outcomes {
		if (c.Name == "three colours") != c.Neighbours.Empty() {
			t.Errorf("%s has the neighbours %v", c.Name, c.Neighbours.Members())
		}
		for _, k := range c.Neighbours.Members() {
			if !o.Outcomes[k].Neighbours.Has(i) {
				t.Errorf("%s is a neighbour of %s, and not the other way round", o.Outcomes[k].Name, c.Name)
			}
		}
	}
	j := gemJudge(t)
	emerald := rs.Node("natural-emerald").Index
	for colour, excluded := range map[string]bool{"red": true, "green": false, "greenish blue": false, "blue": false} {
		var d engine.Decision
		j.Decide(caseOf(t, rs, map[string]any{"readings": map[string]any{"pleochroic_colours": []string{colour}}}),
			judgedOn, &d)
		if j.Excluded(emerald) != excluded {
			t.Errorf("%s in the dichroscope: emerald excluded is %v", colour, !excluded)
		}
	}
}
