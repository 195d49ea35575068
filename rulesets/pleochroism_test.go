package rulesets_test

import (
	"slices"
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

// A colour of the dichroscope may be called by the name of the next one, and the stone is not excluded for it; one that
// no colour of the sheet lies beside is: red is of no emerald.
func TestAPleochroicColourMayBeCalledByItsNeighbour(t *testing.T) {
	o := gemDesk(t).Vocabulary.Observable("pleochroic_colours")
	for _, c := range o.Outcomes {
		if (c.Name == "three colours") != c.Neighbours.Empty() {
			t.Errorf("%s has the neighbours %v", c.Name, c.Neighbours.Members())
		}
	}
	for colour, excluded := range map[string]bool{"red": true, "green": false, "greenish blue": false, "blue": false} {
		if ruledOut(t, "natural-emerald", map[string]any{"pleochroic_colours": []string{colour}}) != excluded {
			t.Errorf("%s in the dichroscope: emerald excluded is %v", colour, !excluded)
		}
	}
}

func ruledOut(t *testing.T, id string, readings map[string]any) bool {
	t.Helper()
	rs, j := gemDesk(t), gemJudge(t)
	var d engine.Decision
	j.Decide(caseOf(t, rs, map[string]any{"readings": readings}), judgedOn, &d)
	return j.Excluded(rs.Node(id).Index)
}

// The hues of the circle, each beside the next (common practice). What lies across it is no neighbour, and nothing but
// white lies beside colourless. At the diamond desk a colour is called by its own name.
func TestColoursHaveTheirNeighboursOnTheCircle(t *testing.T) {
	for name, circle := range map[string][]string{
		"colour":              {"red", "orange", "yellow", "green", "blue", "violet", "purple"},
		"colour_in_lamplight": {"red", "brown", "yellow", "green", "blue", "violet", "purple"}, // orange is brown there
	} {
		o := gemDesk(t).Vocabulary.Observable(name)
		for i, hue := range circle {
			at, known := o.Outcome(hue)
			if !known {
				t.Fatalf("%s has no %s", name, hue)
			}
			for k, other := range circle {
				apart := min((i-k+len(circle))%len(circle), (k-i+len(circle))%len(circle))
				if n, _ := o.Outcome(other); o.Outcomes[at].Neighbours.Has(n) != (apart == 1) {
					t.Errorf("%s: %s beside %s is %v", name, hue, other, apart != 1)
				}
			}
		}
	}
	o := gemDesk(t).Vocabulary.Observable("colour")
	clear, _ := o.Outcome("colourless")
	if white, _ := o.Outcome("white"); !slices.Equal(o.Outcomes[clear].Neighbours.Members(), []int{white}) {
		t.Errorf("beside colourless lie %v", o.Outcomes[clear].Neighbours.Members())
	}
	for _, c := range desk(t).Vocabulary.Observable("colour").Outcomes {
		if !c.Neighbours.Empty() {
			t.Errorf("at the diamond desk %s has neighbours", c.Name)
		}
	}
	for colour, excluded := range map[string]bool{"green": false, "blue": false, "violet": true, "purple": true} {
		if ruledOut(t, "peridot", map[string]any{"colour": colour}) != excluded {
			t.Errorf("a %s stone: peridot excluded is %v", colour, !excluded)
		}
	}
	for colour, excluded := range map[string]bool{"green": false, "blue": true, "grey": true, "yellow": true, "colourless": true} {
		if ruledOut(t, "natural-emerald", map[string]any{"colour": colour}) != excluded {
			t.Errorf("a %s stone: emerald excluded is %v", colour, !excluded)
		}
	}
}
