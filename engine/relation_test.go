package engine_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/kbtest"
)

// series is a small ruleset in which density goes with the index in two materials; %s is what they say of it.
const series = `format: 1
tests:
  - test: refractometer
    name: refractometer
    harm: none
    source: invented
    yields:
      ri: {kind: quantity, family: refraction, unit: "1", span: [1.3, 3], uncertainty: 0.001, blunder: 0.03}
      birefringence: {kind: quantity, family: double refraction, unit: "1", span: [0, 0.35], uncertainty: 0.002, blunder: 0.02}
  - test: balance
    name: balance
    harm: none
    source: invented
    yields:
      specific_gravity: {kind: quantity, family: density, unit: "1", span: [1, 8], uncertainty: 0.02, blunder: 0.01}
  - test: calipers
    name: calipers
    harm: none
    source: invented
    yields:
      size_density: {kind: quantity, property: specific_gravity, family: density, unit: "1", span: [1, 8], uncertainty: 0.05, blunder: 0.05}
policy:
  unlisted: 0.01
  misfit: 4
  rival: 10
  further_weight: 0.25
  missed_turn: 0.1
  frequency: {always: 0.98, usually: 0.85, often: 0.5, sometimes: 0.2, rarely: 0.03, never: 0}
  strength: {weak: 3, moderate: 30, moderately strong: 300, strong: 3000}
  scale: [{from: 1, says: weak}]
  seen_at_counter: {everyday: 100, common: 30, occasional: 10, rare: 1}
  required: [{stake: 0, share: 0.9, doubt_limit: 0.15}]
materials:
  - {group: stones, name: stones, origin: natural, seen_at_counter: common, grown: none known}
  - group: series
    under: stones
    name: series
    nameable: true
    properties:
      ri: {range: [1.60, 1.80], source: invented}
      birefringence: {range: [0, 0.02], source: invented}
      specific_gravity: {range: [3.0, 4.0], typical: [3.2, 3.8], source: invented}
%s
  - {material: one-of-it, under: series, name: one of it}
  - {material: other-of-it, under: series, name: other of it, properties: {specific_gravity: {range: [3.0, 3.9], source: invented}}}
  - material: apart
    under: stones
    name: apart
    properties:
      ri: {range: [1.60, 1.80], source: invented}
      birefringence: {range: [0, 0.1], source: invented}
      specific_gravity: {range: [3.0, 4.2], source: invented}
`

func seriesWith(t testing.TB, relations string) *kb.Ruleset {
	return build(t, "series", fmt.Sprintf(series, "    relations: ["+relations+"]"))
}

const rising = "{of: specific_gravity, by: ri, ray: low, through: [[1.60, 3.1], [1.70, 3.6], [1.80, 3.9]], within: " +
	"0.05, source: a book}"

func seriesCase(t testing.TB, rs *kb.Ruleset, readings string) *casefile.Case {
	c := readCase(rs, "case: one of a series\nreadings: {"+readings+"}\n")
	if c == nil {
		t.Fatalf("not read: %s", readings)
	}
	return c
}

// excludedOf are the materials that a case excludes, by id; true: of weight zero.
func excludedOf(j *engine.Judge, rs *kb.Ruleset, c *casefile.Case) map[string]bool {
	var d engine.Decision
	j.Decide(c, judgedOn, &d)
	out := map[string]bool{}
	for i, m := range rs.Leaves {
		if j.Excluded(i) {
			out[m.ID] = j.Zero(i)
		}
	}
	return out
}

// What was read beside the density decides what it excludes, and by which evidence that is told; a mistaken reading of
// either leaves no material of weight zero.
func TestRelation(t *testing.T) {
	rs := seriesWith(t, rising)
	j := engine.Prepare(rs).NewJudge()
	for _, c := range []struct {
		readings string
		excluded string // of the series
	}{
		{"ri: [1.70, 1.71], specific_gravity: 3.6", ""},
		{"ri: [1.70, 1.71], specific_gravity: 3.15", "one-of-it other-of-it"},
		{"specific_gravity: 3.15", ""},                    // the flat range holds
		{"ri: [1.62, 1.63], specific_gravity: 3.15", ""},  // the low ray counts
		{"ri: [1.61, 1.628], specific_gravity: 3.15", ""}, // so it does, however far the other is
		{"ri: 1.71, specific_gravity: 3.42", ""},          // one ray may be the high one, 0.02 above the low
		{"ri: 1.735, specific_gravity: 3.42", "one-of-it other-of-it"},
		{"ri: {above: 1.70}, specific_gravity: 3.3", "one-of-it other-of-it"},
		{"ri: {above: 1.70}, specific_gravity: 3.8", ""},
		{"ri: {inconclusive: dark}, specific_gravity: 3.15", ""},
		{"ri: [{value: [1.70, 1.71], where: crown}, {value: [1.61, 1.62], where: pavilion}], specific_gravity: 3.15",
			""}, // either place
		{"ri: [1.70, 1.71], size_density: {value: 3.15, uncertainty: 0.02}", "one-of-it other-of-it"},
		{"ri: [1.70, 1.71], size_density: {value: 3.15, uncertainty: 0.05}, specific_gravity: 3.16",
			"one-of-it other-of-it"}, // combined
		{"ri: 1.57, specific_gravity: 3.6", "one-of-it other-of-it"},
		// by the index too; but one mistaken index explains both
		{"ri: [1.70, 1.71], specific_gravity: {below: 3.2}", "one-of-it other-of-it"},
	} {
		out := excludedOf(j, rs, seriesCase(t, rs, c.readings))
		var got []string
		for _, id := range []string{"one-of-it", "other-of-it"} {
			if zero, is := out[id]; is {
				got = append(got, id)
				if zero {
					t.Errorf("%s: %s is of weight zero by what two readings say together", c.readings, id)
				}
			}
		}
		if strings.Join(got, " ") != c.excluded {
			t.Errorf("%s excludes %v", c.readings, got)
		}
	}
	// Where the index rules it out and the density does by itself, nothing is left of it, relation or none.
	if out := excludedOf(j, rs, seriesCase(t, rs, "ri: 1.5, specific_gravity: 2.65")); !out["one-of-it"] ||
		!out["other-of-it"] {
		t.Errorf("two tests that rule a material out leave it %v", out)
	}
}

// The chain tells what was read beside it, names both readings and the sheet's place, and adds up.
func TestRelationIsTold(t *testing.T) {
	rs := seriesWith(t, rising)
	x := engine.Prepare(rs).NewJudge().Explain(seriesCase(t, rs, "ri: [1.70, 1.71], specific_gravity: 3.15"), moment)
	var told []string
	for _, s := range x.Chain {
		if strings.Contains(s.Says, "beside") {
			told = append(told, fmt.Sprintf("%s: %s %s %d", s.Kind, s.Says, s.Source, len(s.Inputs)))
		}
	}
	kbtest.Golden(t, "testdata/relation.golden", strings.Join(told, "\n")+"\n")
}

// A relation as wide as the flat range changes nothing but the digest.
func TestWideRelationChangesNothing(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		wide := fmt.Sprintf("{of: specific_gravity, by: ri, ray: %s, through: [[1.60, 3.4], [1.80, 3.6]], within: "+
			"%g, source: x}",
			rapid.SampledFrom([]string{"low", "mean", "high"}).Draw(rt, "ray"),
			rapid.Float64Range(0.6, 3).Draw(rt, "within"))
		readings := drawSeriesReadings(rt)
		var outputs []string
		for _, relations := range []string{"", wide} {
			rs := seriesWith(t, relations)
			o := engine.Prepare(rs).NewJudge().Explain(seriesCase(t, rs, readings), moment)
			o.Ruleset = ""
			text := encoded(t, o)
			outputs = append(outputs, text)
		}
		if outputs[0] != outputs[1] {
			rt.Fatalf("%s: with the relation\n%s\nwithout\n%s", readings, outputs[1], outputs[0])
		}
	})
}

func drawSeriesReadings(rt *rapid.T) string {
	n := rapid.Float64Range(1.59, 1.81).Draw(rt, "ri")
	ri := fmt.Sprintf("%.4f", n)
	switch rapid.IntRange(0, 3).Draw(rt, "form") {
	case 0:
		ri = fmt.Sprintf("[%.4f, %.4f]", n, n+rapid.Float64Range(0, 0.03).Draw(rt, "split"))
	case 1:
		ri = fmt.Sprintf("{above: %.4f}", n)
	}
	return fmt.Sprintf("ri: %s, specific_gravity: %.4f", ri, rapid.Float64Range(2.9, 4.3).Draw(rt, "density"))
}

// The wider the first reading, the less is excluded: by what both say together, and in all.
func TestWiderReadingExcludesNoMore(t *testing.T) {
	rs := seriesWith(t, rising)
	j := engine.Prepare(rs).NewJudge()
	tried := 0
	rapid.Check(t, func(rt *rapid.T) {
		x, density := rapid.Float64Range(1.58, 1.82).Draw(rt, "ri"), rapid.Float64Range(2.9, 4.1).Draw(rt, "density")
		u := rapid.Float64Range(0.0001, 0.02).Draw(rt, "u")
		wider := u * rapid.Float64Range(1, 20).Draw(rt, "times")
		at := fmt.Sprintf("%.5f", x)
		if rapid.Bool().Draw(rt, "rays") {
			at = fmt.Sprintf("[%.5f, %.5f]", x, x+rapid.Float64Range(0, 0.02).Draw(rt, "split"))
		}
		of := func(u float64) map[string]bool {
			return excludedOf(j, rs, seriesCase(t, rs,
				fmt.Sprintf("ri: {value: %s, uncertainty: %g}, specific_gravity: %.4f", at, u, density)))
		}
		narrow, wide := of(u), of(wider)
		tried += len(narrow)
		for id := range wide {
			if _, is := narrow[id]; !is {
				rt.Fatalf("%s and %.4f: %s is excluded with u = %g and not with %g", at, density, id, wider, u)
			}
		}
	})
	if tried == 0 {
		t.Error("nothing was excluded")
	}
}

// Relations in any order, and readings in any, say the same.
func TestOrderOfRelations(t *testing.T) {
	list := []string{rising, "{of: birefringence, by: ri, through: [[1.60, 0.005], [1.80, 0.015]], within: 0.002, " +
		"source: x}"}
	rapid.Check(t, func(rt *rapid.T) {
		readings := strings.Split(drawSeriesReadings(rt)+", birefringence: 0.012", ", s")
		readings[1] = "s" + readings[1]
		var outputs []string
		for range 2 {
			rs := seriesWith(t, strings.Join(list, ", "))
			o := engine.Prepare(rs).NewJudge().Explain(seriesCase(t, rs, strings.Join(readings, ", ")), moment)
			o.Ruleset = ""
			outputs = append(outputs, encoded(t, o.Output))
			slices.Reverse(list)
			slices.Reverse(readings)
		}
		if outputs[0] != outputs[1] {
			rt.Fatalf("%v:\n%s\n%s", readings, outputs[0], outputs[1])
		}
	})
}

// Of what is read the likelihood follows the band: nearer its middle never tells against a material more than farther
// off.
func TestLikelihoodFollowsTheBand(t *testing.T) {
	rs := seriesWith(t, rising)
	j := engine.Prepare(rs).NewJudge()
	weight := func(density float64) float64 {
		var d engine.Decision
		j.Decide(seriesCase(t, rs, fmt.Sprintf("ri: [1.70, 1.70], specific_gravity: %.4f", density)), judgedOn, &d)
		i := slices.IndexFunc(rs.Leaves, func(m *kb.Material) bool { return m.ID == "one-of-it" })
		return j.Likelihood(i)
	}
	last := math.Inf(1)
	for _, off := range []float64{0, 0.03, 0.06, 0.09, 0.12} {
		if w := weight(3.6 + off); w > last+1e-9 {
			t.Errorf("%g off the line it weighs %g, nearer %g", off, w, last)
		} else {
			last = w
		}
	}
	if flat := seriesWith(t, ""); flat != nil {
		var d engine.Decision
		e := engine.Prepare(flat).NewJudge()
		e.Decide(seriesCase(t, flat, "ri: [1.70, 1.70], specific_gravity: 3.6"), judgedOn, &d)
		i := slices.IndexFunc(flat.Leaves, func(m *kb.Material) bool { return m.ID == "one-of-it" })
		if weight(3.6) <= e.Likelihood(i) {
			t.Error("on the line it is no likelier than by the flat range")
		}
	}
}

// How doubtful a reading is follows from what rests on it: each leaf once, by the line that speaks of it, be it the
// sheet's or a relation's, and by those of what it goes by.
func TestDoubtOfWhatIsRelated(t *testing.T) {
	own := "name: other of it, relations: [{of: specific_gravity, by: birefringence, through: [[0, 3.8], [0.02, " +
		"3.9]], within: 0.02, source: x}]"
	text := strings.Replace(fmt.Sprintf(series, "    relations: ["+rising+"]"), "name: other of it", own, 1)
	rs := build(t, "series", strings.Replace(text, "[3.0, 4.2]", "[3.5, 4.2]", 1))
	j := engine.Prepare(rs).NewJudge()
	c := seriesCase(t, rs, "ri: [1.70, 1.71], birefringence: 0.01, specific_gravity: 3.15")
	var d engine.Decision
	j.Decide(c, judgedOn, &d)
	for _, set := range j.Repeats(c, judgedOn, &d) {
		if len(set.Readings) > 1 {
			continue
		}
		want := 0.0
		for _, r := range c.Readings {
			if r.Name() != set.Readings[0] {
				continue
			}
			want += j.Weight(engine.Unlisted) * r.Blunder
			for i := range rs.Leaves {
				lowest, sheets := math.Inf(1), 0
				for _, term := range j.Terms(i) {
					if slices.Contains(term.Readings, r) {
						lowest = math.Min(lowest, term.C)
					}
					if term.Readings[0].Observable.Name == "specific_gravity" {
						sheets++
					}
				}
				if sheets != 1 {
					t.Errorf("%d lines on the density speak of %s", sheets, rs.Leaves[i].ID)
				}
				want += j.Weight(i) * r.Blunder / math.Exp(lowest)
			}
		}
		if math.Abs(set.Doubt-want) > 1e-12 {
			t.Errorf("the doubt of %v is %.6g, and should be %.6g", set.Readings, set.Doubt, want)
		}
	}
	if d.Class != engine.Contradictory {
		t.Errorf("it is %s", d.Class)
	}
}
