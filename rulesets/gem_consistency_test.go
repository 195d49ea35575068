package rulesets_test

import (
	"fmt"
	"regexp"
	"slices"
	"testing"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/logic"
	"whystone/kb/syntax"

	"go.yaml.in/yaml/v4"
)

// Readings that a sheet itself allows never exclude the material, as at the diamond desk.
func TestNoGemIsExcludedByWhatItsOwnSheetAllows(t *testing.T) {
	rs, j := gemDesk(t), gemJudge(t)
	for _, leaf := range rs.Leaves {
		d := newDrawer(t, rs, leaf, 1, false)
		wrong := map[string]int{}
		for i := range draws(4, 20) {
			s := d.draw(leaf, i%2 == 0)
			for _, x := range told(j, s.caseOf(t, rs)).Excluded {
				if x.Material == leaf.ID && !untilSeen.MatchString(x.By) {
					wrong[x.By+": "+x.Says]++
				}
			}
		}
		if len(wrong) > 0 {
			t.Errorf("%s is excluded by what its own sheet allows, in so many draws: %v", leaf.ID, wrong)
		}
	}
}

// untilSeen are rules that keep a stone out of a case until a sign of it was seen, as policy.yaml says.
var untilSeen = regexp.MustCompile(`^no-.*-no-`)

// Index, specific gravity and optic character of a stone, read well, seldom lead to a wrong name and mostly to the
// right one, be it that of its group; with blunders at the rates of the test sheets a wrong name stays rare.
func TestThreeReadingsOfAGem(t *testing.T) {
	rs, j := gemDesk(t), gemJudge(t)
	for _, blunders := range []bool{false, true} {
		var all tally
		for _, leaf := range rs.Leaves {
			d := newDrawer(t, rs, leaf, 3, blunders)
			d.carat = 3
			always := []string{"ri", "specific_gravity", "optic_character", "colour", "transparency"}
			if leaf.Origin == "assembled" {
				always = append(always, "assembly", "inclusions")
			}
			if f := leaf.Features["phenomenon"]; f != nil && f.Words["play of colour"] == kb.Always {
				always = append(always, "phenomenon") // a rule keeps what imitates opal out of a case until it was seen
			}
			if leaf.Features["structure"] != nil {
				// what is grown or massive is told by its structure, and has no index to speak of
				always = append(always, "structure", "form")
			}
			var own tally
			wrong := map[string]int{}
			for i := range draws(20, 60) {
				s := d.draw(leaf, i%2 == 0, always...)
				var decision engine.Decision
				j.Decide(s.caseOf(t, rs), judgedOn, &decision)
				if own.count(rs, leaf, &decision) {
					wrong[decision.Named.ID]++
				}
			}
			t.Logf("%-32s %6d %6.1f%% %8.1f%% %6.1f%%", leaf.ID, own.drawn, percent(own.named, own.drawn),
				percent(own.narrowed, own.drawn), percent(own.right, own.drawn))
			if !atMost(own.falsely, own.drawn, 0.05) { // of each; of all 2 in 100
				t.Errorf("%s (blunders: %v): %d of %d draws are named something else: %v", leaf.ID, blunders,
					own.falsely, own.drawn, wrong)
			}
			all.add(own)
		}
		t.Logf("blunders: %v: %d drawn, %.1f%% named, %.2f%% falsely, %.1f%% right", blunders, all.drawn,
			percent(all.named, all.drawn), percent(all.falsely, all.drawn), percent(all.right, all.drawn))
		if percent(all.falsely, all.drawn) > 2 || !blunders && percent(all.right, all.drawn) < 70 {
			t.Errorf("blunders: %v: %.2f%% of all draws are named something else, and %.1f%% are right", blunders,
				percent(all.falsely, all.drawn), percent(all.right, all.drawn))
		}
	}
}

// A rule of the gem desk earns its place when, with it silent, some separation or some example of its own comes out
// otherwise.
func TestEveryGemRuleEarnsItsPlace(t *testing.T) {
	rs, j := gemDesk(t), gemJudge(t)
	var cases []*syntax.Node
	for _, file := range gemCases(t) {
		for _, c := range file {
			cases = append(cases, c.node(t))
		}
	}
	in := map[string][]*gemCase{} // by rule, the cases in which it holds
	for _, n := range cases {
		c := &gemCase{node: n, whole: outcome(t, rs, j, n)}
		j.EachRule(func(r *kb.Rule, v logic.Value) {
			if v == logic.Holds {
				in[r.ID] = append(in[r.ID], c)
			}
		})
	}
	n := 0
	for _, r := range rs.Rules {
		if r.Place.Layer != "gem-desk" {
			continue
		}
		n++
		if !gemRuleEarns(t, rs, j, r, in[r.ID]) {
			t.Errorf("the rule %s (%s) does not earn its place: no separation, and no example of its own, comes out "+
				"otherwise without it", r.ID, r.Place.Span)
		}
	}
	t.Logf("%d rules, each kept silent in turn, against %d cases", n, len(cases))
}

// gemCase is a case, and what comes of it.
type gemCase struct {
	node  *syntax.Node
	whole []string
}

func gemRuleEarns(t *testing.T, rs *kb.Ruleset, j *engine.Judge, r *kb.Rule, cases []*gemCase) bool {
	t.Helper()
	defer j.Mute(nil)
	for _, e := range r.Examples {
		if e.Is != logic.Holds {
			continue
		}
		with := told(j, e.Case)
		j.Mute(r)
		without := told(j, e.Case)
		j.Mute(nil)
		if !slices.Equal(outcomeOf(with), outcomeOf(without)) {
			return true
		}
	}
	j.Mute(r)
	for _, c := range cases {
		if !slices.Equal(outcome(t, rs, j, c.node), c.whole) {
			return true
		}
	}
	return false
}

// node is the case as a document, without what is expected of it.
func (c expectedCase) node(t testing.TB) *syntax.Node {
	t.Helper()
	text, err := yaml.Marshal(c.Case)
	if err != nil {
		t.Fatal(err)
	}
	nodes := parseCases(t, fmt.Sprint(c.Case["case"]), text)
	if len(nodes) != 1 {
		t.Fatalf("%s makes %d documents", text, len(nodes))
	}
	return nodes[0]
}

// The diamond desk by itself has nothing of the layer above it.
func TestTheDiamondDeskAloneIsUntouched(t *testing.T) {
	alone := desk(t)
	if len(alone.Layers) != 1 || alone.Layers[0] != "diamond-desk" {
		t.Errorf("its layers are %v", alone.Layers)
	}
	if alone.Node("jadeite") != nil || gemDesk(t).Node("jadeite") == nil || gemDesk(t).Digest == alone.Digest {
		t.Error("the layers are mixed up")
	}
}
