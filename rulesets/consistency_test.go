package rulesets_test

import (
	"math"
	"slices"
	"testing"

	"whystone/engine"
	"whystone/kb"
)

// draws is how many stones of each material a check draws: few in a plain run, many when everything is asked for.
func draws(few, many int) int {
	if thorough() {
		return many
	}
	return few
}

// holdsTruth tells whether a node is the material or a group that holds it.
func holdsTruth(rs *kb.Ruleset, node string, leaf *kb.Material) bool {
	n := rs.Node(node)
	return n != nil && leaf.Under(n)
}

// Readings that a sheet itself allows, without a blunder and with errors of at most 3 standard uncertainties, never
// exclude the material: not by its own line, not by any rule, not by two readings that don't fit each other.
func TestNoStoneIsExcludedByWhatItsOwnSheetAllows(t *testing.T) {
	rs, j := desk(t), judge(t)
	for _, leaf := range rs.Leaves {
		d := newDrawer(t, rs, leaf, 1, false)
		wrong := map[string]int{}
		var example string
		for i := range draws(60, 200) {
			s := d.draw(leaf, i%2 == 0)
			o := told(j, s.caseOf(t, rs))
			for _, x := range o.Excluded {
				if x.Material == leaf.ID {
					if wrong[x.By]++; example == "" {
						example = x.Says
					}
				}
			}
		}
		if len(wrong) > 0 {
			t.Errorf("%s is excluded by what its own sheet allows, in so many draws: %v; for one, %s", leaf.ID, wrong,
				example)
		}
	}
}

// tally is what came of the draws of one material.
type tally struct {
	drawn, named, narrowed, right, falsely int // right: identified or narrowed to at most three, the truth among them
	excluded, excludedFalsely              int // a blunder excluded the truth; and something else was named
}

func (a *tally) add(b tally) {
	a.drawn, a.named, a.narrowed, a.right, a.falsely = a.drawn+b.drawn, a.named+b.named, a.narrowed+b.narrowed,
		a.right+b.right, a.falsely+b.falsely
	a.excluded, a.excludedFalsely = a.excluded+b.excluded, a.excludedFalsely+b.excludedFalsely
}

func (a *tally) count(rs *kb.Ruleset, leaf *kb.Material, d *engine.Decision) (falsely bool) {
	a.drawn++
	switch d.Class {
	case engine.Identified:
		a.named++
		if holdsTruth(rs, d.Named.ID, leaf) {
			a.right++
			return false
		}
		a.falsely++
		return true
	case engine.Narrowed:
		if len(d.Nodes) <= 3 && slices.ContainsFunc(d.Nodes, func(n *kb.Material) bool { return leaf.Under(n) }) {
			a.narrowed++
			a.right++
		}
	}
	return false
}

// atMost and atLeast hold a rate against a limit. One material's own rate may stray from it by three standard
// deviations of so many draws; that of all together may not.
func atMost(n, of int, limit float64) bool {
	return float64(n) <= limit*float64(of)+3*math.Sqrt(limit*(1-limit)*float64(of))
}

func percent(n, of int) float64 { return 100 * float64(n) / math.Max(float64(of), 1) }

// With blunders at the rates of the test sheets a wrong name is rare, and where a blunder has excluded the true
// material something else is seldom named: mostly the case is contradictory, or too little for a name.
func TestBlundersSeldomLeadToAWrongName(t *testing.T) {
	rs, j := desk(t), judge(t)
	var all tally
	t.Logf("%-32s %6s %7s %7s %9s %9s", "material", "drawn", "named", "falsely", "excluded", "falsely")
	for _, leaf := range rs.Leaves {
		d := newDrawer(t, rs, leaf, 2, true)
		var own tally
		wrong := map[string]int{}
		for i := range draws(150, 750) {
			s := d.draw(leaf, i%2 == 0)
			c := s.caseOf(t, rs)
			var decision engine.Decision
			j.Decide(c, judgedOn, &decision)
			falsely := own.count(rs, leaf, &decision)
			if len(s.blundered) > 0 && excludes(told(j, c), leaf.ID) {
				own.excluded++
				if falsely {
					own.excludedFalsely++
				}
			}
			if falsely {
				wrong[decision.Named.ID]++
			}
		}
		t.Logf("%-32s %6d %6.1f%% %6.2f%% %9d %8.1f%%", leaf.ID, own.drawn, percent(own.named, own.drawn),
			percent(own.falsely, own.drawn), own.excluded, percent(own.excludedFalsely, own.excluded))
		if !atMost(own.falsely, own.drawn, 0.02) {
			t.Errorf("%s: %d of %d draws are named something else: %v", leaf.ID, own.falsely, own.drawn, wrong)
		}
		if !atMost(own.excludedFalsely, own.excluded, 0.15) {
			t.Errorf("%s: of %d draws in which a blunder excluded it, %d are named something else: %v", leaf.ID,
				own.excluded, own.excludedFalsely, wrong)
		}
		all.add(own)
	}
	t.Logf("%-32s %6d %6.1f%% %6.2f%% %9d %8.1f%%", "all", all.drawn, percent(all.named, all.drawn),
		percent(all.falsely, all.drawn), all.excluded, percent(all.excludedFalsely, all.excluded))
	if percent(all.falsely, all.drawn) > 2 {
		t.Errorf("%d of %d draws are named something else; 2 in 100 may be", all.falsely, all.drawn)
	}
	if percent(all.excludedFalsely, all.excluded) > 15 {
		t.Errorf("of %d draws in which a blunder excluded the truth, %d are named something else; 15 in 100 may be",
			all.excluded, all.excludedFalsely)
	}
	if all.excluded < all.drawn/50 {
		t.Errorf("only %d of %d draws had the truth excluded; the check is blind", all.excluded, all.drawn)
	}
}

// With the index (or that it is over the limit), the specific gravity and the optic character, and no blunder, most
// stones get a name, or one of at most three. An assembled stone is named by its join alone, and so that is looked for
// too.
func TestThreeGoodReadingsMostlyName(t *testing.T) {
	rs, j := desk(t), judge(t)
	var all tally
	t.Logf("%-32s %6s %7s %9s %7s", "material", "drawn", "named", "narrowed", "right")
	for _, leaf := range rs.Leaves {
		d := newDrawer(t, rs, leaf, 3, false)
		d.carat = 3 // a weighing in water is a good reading on a stone of some carats
		always := []string{"ri", "specific_gravity", "optic_character"}
		if leaf.Origin == "assembled" {
			always = append(always, "assembly")
		}
		var own tally
		for i := range draws(100, 500) {
			s := d.draw(leaf, i%2 == 0, always...)
			var decision engine.Decision
			j.Decide(s.caseOf(t, rs), judgedOn, &decision)
			if own.count(rs, leaf, &decision) {
				t.Logf("%s: named %s without a blunder: %v", leaf.ID, decision.Named.ID, s.readings)
			}
		}
		t.Logf("%-32s %6d %6.1f%% %8.1f%% %6.1f%%", leaf.ID, own.drawn, percent(own.named, own.drawn),
			percent(own.narrowed, own.drawn), percent(own.right, own.drawn))
		// Above the end of the scale a few share their weight with three others, and weight is all that is read of
		// them.
		if own.right < own.drawn/2 {
			t.Errorf("%s: only %.1f in 100 draws end with a name, or one of at most three, that holds the truth",
				leaf.ID, percent(own.right, own.drawn))
		}
		all.add(own)
	}
	t.Logf("%-32s %6d %6.1f%% %8.1f%% %6.1f%%", "all", all.drawn, percent(all.named, all.drawn),
		percent(all.narrowed, all.drawn), percent(all.right, all.drawn))
	if percent(all.right, all.drawn) < 85 {
		t.Errorf("only %.1f in 100 draws end with a name, or one of at most three, that holds the truth; 85 should",
			percent(all.right, all.drawn))
	}
}
