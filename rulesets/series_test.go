package rulesets_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"whystone/engine"
	"whystone/kb"
)

// mixture is a member of a series, or what lies between two.
type mixture struct {
	of                string
	low, high, weight float64 // the extreme rays, and the specific gravity
	materials         []string
}

// mixtures are the members of the published series and what lies between neighbours, both rays and density in
// proportion: so they go within a series as long as the volume of its members is much the same (Vegard's rule, common
// practice).
func mixtures(t testing.TB) (out []mixture) {
	t.Helper()
	rows := published(t, "series_members.csv")
	at := func(row map[string]string) mixture {
		middle := func(what string) float64 { return (number(t, row[what+"_from"]) + number(t, row[what+"_to"])) / 2 }
		return mixture{row["member"], middle("low_ray"), middle("high_ray"), middle("sg"),
			strings.Fields(row["materials"])}
	}
	for i, row := range rows[1:] {
		if row["series"] != rows[i]["series"] {
			continue
		}
		a, b := at(rows[i]), at(row)
		for step := range 21 {
			part := float64(step) / 20
			mix := func(x, y float64) float64 { return x + part*(y-x) }
			out = append(out, mixture{fmt.Sprintf("%s, %g of %s, %s", row["series"], 1-part, a.of, b.of),
				mix(a.low, b.low), mix(a.high, b.high), mix(a.weight, b.weight), a.materials})
		}
	}
	return out
}

func (m mixture) ray(of kb.Ray) float64 {
	switch of {
	case kb.LowRay:
		return m.low
	case kb.HighRay:
		return m.high
	}
	return (m.low + m.high) / 2
}

// Source: series_members.csv. What lies between published members of a series lies within the band of every sheet that
// the series is for and whose flat ranges have room for it; so does its birefringence, where that goes with the index.
func TestSeriesLieInTheBands(t *testing.T) {
	rs := gemDesk(t)
	checked := map[string]int{}
	for _, x := range mixtures(t) {
		for _, id := range x.materials {
			m := rs.Node(id)
			for of, r := range m.Relations {
				at := x.ray(r.Ray)
				value := map[string]float64{"specific_gravity": x.weight, "birefringence": x.high - x.low}[of]
				if !holds(m.Ranges["ri"], x.low) || !holds(m.Ranges["ri"], x.high) || !holds(m.Ranges[of], value) {
					continue
				}
				checked[id]++
				if lo, hi := r.Band(at, at); value < lo || value > hi {
					t.Errorf("%s: %s of %s is %.4g where the %s ray is %.4g, and the sheet leaves %.4g to %.4g (%s)",
						id, of, x.of, value, r.Ray, at, lo, hi, r.Span)
				}
			}
		}
	}
	t.Logf("%v", checked)
	for _, id := range []string{"pyrope", "rhodolite", "almandine", "spessartine", "grossular", "oligoclase",
		"labradorite", "scapolite", "peridot", "tourmaline"} {
		if checked[id] < 4 {
			t.Errorf("%s: only %d mixtures lie in its ranges", id, checked[id])
		}
	}
}

// Every sheet with a relation is held against a published series.
func TestRelationsAreHeldAgainstSeries(t *testing.T) {
	var known []string
	for _, x := range mixtures(t) {
		known = append(known, x.materials...)
	}
	for _, m := range gemDesk(t).Leaves {
		if len(m.Relations) > 0 && !slices.Contains(known, m.ID) {
			t.Errorf("no row of series_members.csv is for %s", m.ID)
		}
	}
}

// A stone whose index, read as two rays, as one of them or as their middle, and whose weight are those of a published
// mixture is not excluded by what goes with what, at the errors of the bench.
func TestSeriesAreNotExcluded(t *testing.T) {
	rs, j := gemDesk(t), gemJudge(t)
	judged := 0
	for _, x := range mixtures(t) {
		if x.high > 1.81 {
			continue // a refractometer reads no further
		}
		ways := [][]float64{{x.low, x.high}, {x.low}, {x.high}, {(x.low + x.high) / 2}}
		for _, ri := range ways {
			for _, error := range []float64{-0.02, 0, 0.02} {
				c := caseOf(t, rs, measuredAs(ri, x.weight+error, 0.01))
				var d engine.Decision
				j.Decide(c, judgedOn, &d)
				for _, id := range x.materials {
					m := rs.Node(id)
					if !holds(m.Ranges["ri"], x.low) || !holds(m.Ranges["ri"], x.high) ||
						!holds(m.Ranges["specific_gravity"], x.weight+error) {
						continue
					}
					judged++
					if j.Excluded(m.Index) {
						t.Errorf("%s is excluded by ri %v and specific gravity %.4f, as of %s", id, ri, x.weight+error,
							x.of)
					}
				}
			}
		}
	}
	if t.Logf("%d readings of mixtures judged", judged); judged < 1000 {
		t.Error("too few")
	}
}

// measuredAs is what a case says of a stone with one ray read or two, and its specific gravity.
func measuredAs(rays []float64, weight, u float64) map[string]any {
	ri := any(rays)
	if len(rays) == 1 {
		ri = rays[0]
	}
	return map[string]any{"readings": map[string]any{"ri": ri, "specific_gravity": map[string]any{"value": weight,
		"uncertainty": u}}}
}

// Figures of two ends of a series on one stone are those of no stone of it, though the flat ranges have room for both.
func TestOneEndsIndexAndTheOthersWeight(t *testing.T) {
	rs, j := gemDesk(t), gemJudge(t)
	for _, c := range []struct {
		id       string
		ri, sg   float64
		excluded bool
	}{
		{"spessartine", 1.750, 4.15, true}, {"spessartine", 1.805, 4.15, false}, {"spessartine", 1.750, 3.85, false},
		{"scapolite", 1.545, 2.74, true}, {"scapolite", 1.545, 2.58, false}, {"peridot", 1.672, 3.48, true},
		{"peridot", 1.672, 3.34, false},
		{"labradorite", 1.572, 2.63, true}, {"labradorite", 1.563, 2.70, false}, {"tourmaline", 1.632, 3.30, true},
		{"tourmaline", 1.632, 3.06, false},
	} {
		m := rs.Node(c.id)
		if !holds(m.Ranges["ri"], c.ri) || !holds(m.Ranges["specific_gravity"], c.sg) {
			t.Errorf("%s: the flat ranges have no room for %g and %g", c.id, c.ri, c.sg)
		}
		var d engine.Decision
		split := math.Max(0, m.Ranges["birefringence"].Low)
		ri := []float64{c.ri - split/2, c.ri + split/2}
		j.Decide(caseOf(t, rs, measuredAs(ri, c.sg, 0.005)), judgedOn, &d)
		if j.Excluded(m.Index) != c.excluded {
			t.Errorf("%s with ri %v and specific gravity %g: excluded is %v", c.id, ri, c.sg, !c.excluded)
		}
	}
}
