package rulesets_test

import (
	"math"
	"os"
	"slices"
	"testing"

	"whystone/kb"
	"whystone/kb/casefile"
)

// measured is a diamond of the data set.
type measured struct{ carat, depth, x, y, z float64 }

// implied is the specific gravity by the trade's rule.
func (m measured) implied() float64 {
	d := (m.x + m.y) / 2
	return 3.52 * m.carat / (0.0061 * d * d * m.z)
}

// kept tells whether a row stays, by the rules in the head of diamonds_size_summary.csv.
func (m measured) kept() bool {
	switch d := (m.x + m.y) / 2; {
	case m.x <= 0 || m.y <= 0 || m.z <= 0:
		return false
	case math.Abs(m.x-m.y) > 0.08*math.Min(m.x, m.y):
		return false
	case math.Abs(100*m.z/d-m.depth) > 1:
		return false
	}
	return m.implied() >= 2.8 && m.implied() <= 4.5
}

func (m measured) caseOf(t testing.TB, rs *kb.Ruleset, times float64) *casefile.Case {
	return caseOf(t, rs, map[string]any{"stone": map[string]any{"mounted": false, "cut": "round brilliant",
		"carat": m.carat * times, "length_mm": m.x, "width_mm": m.y, "depth_mm": m.z}})
}

// Source: the data set diamonds of the R package ggplot2, 53,940 rows, exported as the head of
// diamonds_size_summary.csv says. Its percentiles must be those of the summary; and the ruleset's own estimate must be
// as good on these stones as published.
func TestWeightAgainstSizeOnAllMeasuredDiamonds(t *testing.T) {
	path := os.Getenv("WHYSTONE_DIAMONDS_CSV")
	if path == "" {
		if thorough() {
			t.Fatal("WHYSTONE_DIAMONDS_CSV names no export of the data set diamonds of r-cran-ggplot2")
		}
		t.Skip("WHYSTONE_DIAMONDS_CSV is not set: the export of the data set diamonds of the R package ggplot2 is " +
			"needed (testdata/published/diamonds_size_summary.csv says how)")
	}
	var stones []measured
	rows := readCSV(t, path)
	for _, r := range rows {
		m := measured{number(t, r["carat"]), number(t, r["depth"]), number(t, r["x"]), number(t, r["y"]),
			number(t, r["z"])}
		if m.kept() {
			stones = append(stones, m)
		}
	}
	if len(rows) != 53940 || len(stones) != 53829 {
		t.Fatalf("%d of %d rows are kept; it should be 53829 of 53940", len(stones), len(rows))
	}
	t.Run("percentiles", func(t *testing.T) { checkSummary(t, stones) })
	t.Run("verdicts", func(t *testing.T) { checkEstimate(t, stones) })
}

// checkSummary computes the summary anew, weight class by weight class.
func checkSummary(t *testing.T, stones []measured) {
	for _, row := range published(t, "diamonds_size_summary.csv") {
		if row["by"] == "cut" {
			continue
		}
		var values []float64
		for _, m := range stones {
			if row["by"] == "all" || m.carat >= number(t, row["from_ct"]) && m.carat < number(t, row["below_ct"]) {
				values = append(values, m.implied())
			}
		}
		slices.Sort(values)
		if len(values) != int(number(t, row["stones"])) {
			t.Errorf("%s: %d stones, the summary has %s", row["class"], len(values), row["stones"])
			continue
		}
		for p, column := range map[float64]string{0.01: "p1", 0.05: "p5", 0.25: "p25", 0.50: "p50", 0.75: "p75",
			0.95: "p95", 0.99: "p99"} {
			at := p * float64(len(values)-1)
			i := int(at)
			v := values[i] + (at-float64(i))*(values[min(i+1, len(values)-1)]-values[i])
			if math.Abs(v-number(t, row[column])) > 0.00051 {
				t.Errorf("%s: %s is %.4f, the summary has %s", row["class"], column, v, row[column])
			}
		}
	}
}

// sizeEvidence is the weight of evidence of a derived density for a material, and whether it excludes it: written anew
// here, and held against the engine's own on a sample.
func sizeEvidence(rs *kb.Ruleset, r *casefile.Reading, m *kb.Material) (c float64, excluded bool) {
	s := m.Ranges[r.Observable.Property]
	if away := math.Max(s.Low-r.Value, r.Value-s.High); away > rs.Policy.Misfit*r.U+s.Tolerance {
		return math.Log(r.Blunder), true
	}
	phi := func(x float64) float64 { return math.Erfc(-x/math.Sqrt2) / 2 }
	over := func(a, b float64) float64 {
		if w := r.Observable.Resolution; b-a < w {
			a, b = (a+b-w)/2, (a+b+w)/2
		}
		return (phi((b-r.Value)/r.U) - phi((a-r.Value)/r.U)) / (b - a)
	}
	l := over(s.Low, s.High)
	if s.Typical != nil {
		l = 0.9*over(s.Typical[0], s.Typical[1]) + 0.1*l
	}
	any := 1 / (r.Observable.Span[1] - r.Observable.Span[0])
	return math.Log((1-r.Blunder)*l/any + r.Blunder), false
}

// checkEstimate judges all stones by weight and size, and the moissanites and zirconias of the same cut.
func checkEstimate(t *testing.T, stones []measured) {
	rs, j := desk(t), judge(t)
	diamond := rs.Leaves[rs.Node("diamond").Leaves[0]]
	excluded, notReckoned := 0, 0
	for i, m := range stones {
		c := m.caseOf(t, rs, 1)
		r := sizeDensity(c)
		if r == nil {
			notReckoned++
			continue
		}
		_, out := sizeEvidence(rs, r, diamond)
		if out {
			excluded++
		}
		if (out || i%500 == 0) && excludes(told(j, c), diamond.ID) != out {
			t.Fatalf("%v: reckoned here excluded is %v, by the engine %v", m, out, !out)
		}
	}
	t.Logf("%d of %d genuine diamonds are excluded by weight against size (%.3f %%); of %d nothing is derived",
		excluded, len(stones), percent(excluded, len(stones)), notReckoned)
	if percent(excluded, len(stones)) > 0.5 || notReckoned > 0 {
		t.Errorf("%.3f %% of genuine diamonds are excluded, and of %d nothing is derived; at most 0.5 %% may be",
			percent(excluded, len(stones)), notReckoned)
	}
	for _, row := range published(t, "diamonds_size_separation.csv") {
		if row["class"] == "all" {
			checkImitation(t, stones, diamond, rs.Node(row["imitation"]), number(t, row["specific_gravity"]),
				number(t, row["false_alarm_percent"])+number(t, row["miss_percent"]))
		}
	}
}

// checkImitation counts the diamonds that weight and size take for the imitation, and the imitations that they take for
// diamond. Both rates together can't be lower than at the best threshold, and should not be much higher.
func checkImitation(t *testing.T, stones []measured, diamond, imitation *kb.Material, sg, best float64) {
	rs, j := desk(t), judge(t)
	alarms, misses, excluded, beyond := 0, 0, 0, 0
	prefers := func(c *casefile.Case, i int) (forImitation, out bool) {
		r := sizeDensity(c)
		if r == nil { // beyond the span of what can be read at all
			beyond++
			return true, true
		}
		a, out := sizeEvidence(rs, r, diamond) // once diamond is excluded it is no more preferred
		b, _ := sizeEvidence(rs, r, imitation)
		if i%5000 == 0 {
			if ratio, _ := weighed(t, rs, j, c, imitation, diamond); math.Abs(math.Log(ratio)-(b-a)) > 1e-9 {
				t.Fatalf("%s: evidence reckoned here %.12g, by the engine %.12g", imitation.ID, b-a, math.Log(ratio))
			}
		}
		return b > a || out, out
	}
	for i, m := range stones {
		if alarm, _ := prefers(m.caseOf(t, rs, 1), i); alarm {
			alarms++
		}
		found, out := prefers(m.caseOf(t, rs, sg/3.52), i)
		if !found {
			misses++
		}
		if out {
			excluded++
		}
	}
	sum := percent(alarms, len(stones)) + percent(misses, len(stones))
	t.Logf("%-32s %.2f: false alarms %.3f %%, misses %.3f %%, together %.3f %% (best threshold %.3f %%); diamond "+
		"excluded for %.2f %%, %d beyond the span",
		imitation.ID, sg, percent(alarms, len(stones)), percent(misses, len(stones)), sum, best,
		percent(excluded, len(stones)), beyond)
	if beyond > len(stones)/200 {
		t.Errorf("%s: for %d of %d nothing is derived", imitation.ID, beyond, len(stones))
	}
	if best < 5 && sum > 1.5*best+0.2 &&
		imitation.Ranges["specific_gravity"].Low > diamond.Ranges["specific_gravity"].High {
		t.Errorf("%s: false alarms and misses come to %.3f %%; at the best threshold they are %.3f %%", imitation.ID,
			sum, best)
	}
	if best == 0 && excluded < len(stones) {
		t.Errorf("%s: diamond stays possible for %d of %d of them", imitation.ID, len(stones)-excluded, len(stones))
	}
}
