package rulesets_test

import (
	"math"
	"testing"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/casefile"
)

// roundBrilliant is the case of a loose round brilliant of a weight, cut so that weight and size imply a specific
// gravity.
func roundBrilliant(t testing.TB, rs *kb.Ruleset, carat, implied float64) *casefile.Case {
	t.Helper()
	// Depth 0.61 of the width: implied = 3.52 carat / (0.0061 d^2 z), the trade's rule as diamonds_size_summary.csv has
	// it.
	wide := math.Cbrt(3.52 * carat / (0.0061 * 0.61 * implied))
	return caseOf(t, rs, map[string]any{"stone": map[string]any{"mounted": false, "cut": "round brilliant",
		"carat": carat, "length_mm": wide, "width_mm": wide, "depth_mm": 0.61 * wide}})
}

// sizeDensity is the reading that the ruleset derives from weight and size, or nil.
func sizeDensity(c *casefile.Case) *casefile.Reading {
	for _, r := range c.Readings {
		if r.Observable.Name == "size_density" {
			return r
		}
	}
	return nil
}

// midWeight is a weight within a class of the summary; for the whole and for cut grades one of middling size.
func midWeight(t testing.TB, row map[string]string) float64 {
	if row["from_ct"] == "" {
		return 1
	}
	return math.Sqrt(number(t, row["from_ct"]) * number(t, row["below_ct"]))
}

// Source: diamonds_size_summary.csv, 53,829 measured diamonds. The uncertainty that the ruleset gives the estimate must
// not be smaller than what these stones scatter by, nor much larger: not under nine tenths of it, not over twice.
func TestSizeDensityHasThePublishedScatter(t *testing.T) {
	rs := desk(t)
	for _, row := range published(t, "diamonds_size_summary.csv") {
		if row["by"] == "cut" {
			continue // a case doesn't know the grade of the cut
		}
		r := sizeDensity(roundBrilliant(t, rs, midWeight(t, row), 3.52))
		if r == nil {
			t.Errorf("%s ct: no density is derived from weight and size", row["class"])
			continue
		}
		if math.Abs(r.Value-3.52) > 1e-9 {
			t.Errorf("%s ct: the ruleset derives %.6g, the trade's rule gives 3.52", row["class"], r.Value)
		}
		scatter, own := number(t, row["sd"])/number(t, row["p50"]), r.U/r.Value
		t.Logf("%-12s published scatter %.4f, the sheet's uncertainty %.4f", row["class"], scatter, own)
		if own < 0.9*scatter || own > 2*scatter && number(t, row["stones"]) >= 1000 {
			t.Errorf("%s ct: the sheet's relative uncertainty %.4f does not fit the published scatter %.4f",
				row["class"], own, scatter)
		}
	}
}

// A diamond as far out as one in a hundred is, on either side, is not excluded by its weight; nor is the median one.
func TestMeasuredDiamondsAreNotExcluded(t *testing.T) {
	rs, j := desk(t), judge(t)
	for _, row := range published(t, "diamonds_size_summary.csv") {
		if row["by"] == "cut" {
			continue
		}
		for _, p := range []string{"p1", "p50", "p99"} {
			o := told(j, roundBrilliant(t, rs, midWeight(t, row), number(t, row[p])))
			for _, i := range rs.Node("diamond").Leaves {
				if excludes(o, rs.Leaves[i].ID) {
					t.Errorf("%s ct: a diamond at %s (%s) is excluded as %s", row["class"], p, row[p], rs.Leaves[i].ID)
				}
			}
		}
	}
}

// weighed is what weight and size say of a stone: how many times likelier it is under one material than under another,
// and whether they exclude the other.
func weighed(t testing.TB, rs *kb.Ruleset, j *engine.Judge, c *casefile.Case, one, other *kb.Material) (ratio float64,
	excluded bool) {
	t.Helper()
	e := j.Explain(c, engine.Moment{On: judgedOn, DatedBy: "clock"})
	var c1, c2 float64
	found := false
	for _, s := range e.Chain {
		if s.Kind != "evidence" || s.Observable != "size_density" {
			continue
		}
		found = true
		for _, w := range s.Weights {
			switch w.Material {
			case one.ID:
				c1 = w.C
			case other.ID:
				c2 = w.C
			}
		}
	}
	if !found {
		t.Fatal("weight and size are no evidence")
	}
	return math.Exp(c1 - c2), excludes(&e.Output, other.ID)
}

// Source: diamonds_size_separation.csv. What the published stones tell apart without error must be told from the first
// to the ninety-ninth percentile, either excluded or by ten to one; what they tell mostly, at the median, and from the
// fifth to the ninety-fifth not the wrong way round; and what they don't tell must not be told by ten to one.
func TestImitationsAreToldByWeightAsPublished(t *testing.T) {
	rs, j := desk(t), judge(t)
	diamond := rs.Leaves[rs.Node("diamond").Leaves[0]]
	classes := map[string]map[string]string{}
	for _, row := range published(t, "diamonds_size_summary.csv") {
		classes[row["class"]] = row
	}
	for _, row := range published(t, "diamonds_size_separation.csv") {
		imitation, class, sg := rs.Node(row["imitation"]), classes[row["class"]], number(t, row["specific_gravity"])
		if imitation == nil || class == nil {
			t.Errorf("the ruleset has no %s, or the summary no class %s", row["imitation"], row["class"])
			continue
		}
		what, carat := row["imitation"]+" of "+row["specific_gravity"]+", "+row["class"]+" ct", midWeight(t, class)
		wrong := number(t, row["false_alarm_percent"]) + number(t, row["miss_percent"])
		// A sheet as wide as that of lead glass holds the diamond's density too: only that imitation itself can be
		// caught.
		wide := imitation.Ranges["specific_gravity"].Low < diamond.Ranges["specific_gravity"].High && sg > 4
		for _, p := range []string{"p1", "p5", "p50", "p95", "p99"} {
			implied := number(t, class[p])
			d, cleared := weighed(t, rs, j, roundBrilliant(t, rs, carat, implied), diamond, imitation)
			m, caught := weighed(t, rs, j, roundBrilliant(t, rs, carat*sg/3.52, implied*sg/3.52), imitation, diamond)
			switch outer := p == "p1" || p == "p99"; {
			case wrong < 0.1 && (m < 10 && !caught || d < 10 && !cleared && !wide):
				t.Errorf("%s: at %s the diamond is told by %.3g to 1 and the imitation by %.3g to 1; the published "+
					"stones are told without error", what, p, d, m)
			case wrong >= 0.1 && wrong < 5 && p == "p50" && (d < 10 || m < 10):
				t.Errorf("%s: the median diamond is told by %.3g to 1 and the imitation by %.3g to 1 only", what, d, m)
			case wrong >= 0.1 && wrong < 5 && !outer && (d < 1 || m < 1):
				t.Errorf("%s: at %s the estimate says the wrong thing (%.3g and %.3g to 1)", what, p, d, m)
			case wrong > 30 && p == "p50" && (d > 10 || m > 10):
				t.Errorf("%s: at the median the estimate claims %.3g and %.3g to 1; the published stones are hardly "+
					"told apart", what, d, m)
			case wrong > 80 && (d > 10 || m > 10 || cleared || caught):
				t.Errorf("%s: at %s the estimate claims %.3g and %.3g to 1; the published stones are not told apart",
					what, p, d, m)
			}
		}
	}
}
