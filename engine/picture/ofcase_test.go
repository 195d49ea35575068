package picture_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"whystone/engine"
	"whystone/engine/enginetest"
	"whystone/engine/picture"
	"whystone/kb"
)

// The plane of a demo case: every leaf of the verdict stands there as the verdict has it, and every reading of index
// and density.
func TestOfCase(t *testing.T) {
	rs := enginetest.Ruleset(t)
	j := engine.Prepare(rs).NewJudge()
	seen := map[picture.Standing]int{}
	for name, c := range enginetest.Demo(t, rs) {
		e := j.Explain(c, engine.Moment{On: time.Date(2031, 3, 4, 0, 0, 0, 0, time.UTC), DatedBy: "taken"})
		p := picture.OfCase(rs, c, e)
		for _, a := range p.Areas {
			seen[a.Standing]++
			out := slices.ContainsFunc(e.Excluded, func(x engine.Excluded) bool { return x.Name == a.Name })
			open := slices.ContainsFunc(e.Candidates, func(x engine.Candidate) bool { return x.Name == a.Name })
			if out && !open != (a.Standing == picture.RuledOut) {
				t.Errorf("%s: %s is drawn as %d", name, a.Name, a.Standing)
			}
		}
		want := 0
		for _, r := range c.Readings {
			if p := r.Observable.Property; r.Usable() && (p == "ri" || p == "specific_gravity" || p == "reflectance") {
				want++
			}
		}
		if got := len(p.Index) + len(p.Density); got != want {
			t.Errorf("%s: %d readings drawn, %d read", name, got, want)
		}
		if e.Named != nil && !slices.ContainsFunc(p.Areas,
			func(a picture.Area) bool { return a.Standing == picture.Named }) {
			t.Errorf("%s: %s is named and not drawn so", name, *e.Named)
		}
		if svg := string(p.Draw().SVG); !strings.Contains(svg, "<svg") || strings.Contains(svg, "NaN") {
			t.Errorf("%s: %.80s", name, svg)
		}
	}
	if seen[picture.RuledOut] < 100 || seen[picture.Open] < 20 || seen[picture.Named] < 5 {
		t.Errorf("drawn: %v", seen)
	}
}

// What is drawn for and against a material is what the evaluator counts for it.
func TestEvidenceIsWhatCounts(t *testing.T) {
	rs := enginetest.Ruleset(t)
	j := engine.Prepare(rs).NewJudge()
	checked := 0
	for name, c := range enginetest.Demo(t, rs) {
		e := j.Explain(c, engine.Moment{On: time.Date(2031, 3, 4, 0, 0, 0, 0, time.UTC), DatedBy: "taken"})
		for _, drawn := range picture.OfEvidence(e).Cases {
			m := slices.IndexFunc(rs.Leaves, func(m *kb.Material) bool { return m.Name == drawn.Name && !m.Other })
			if m < 0 {
				continue
			}
			sum := 0.0
			for _, s := range drawn.Strands {
				sum += s.Weight * math.Ln10
			}
			want := j.LogWeight(m) - j.LogPrior(m)
			if math.IsInf(want, -1) {
				continue // of weight zero: what is counted no longer matters
			}
			if checked++; math.Abs(sum-want) > 0.05*math.Ln10 {
				t.Errorf("%s: %s is drawn with %g, and has %g", name, drawn.Name, sum, want)
			}
		}
	}
	if checked < 60 {
		t.Errorf("only %d materials checked", checked)
	}
}

// A reflectance is drawn as the index that it tells of; two rays as the stretch from the one to the other; a bound to
// its end.
func TestReadingsOfAnIndex(t *testing.T) {
	rs := enginetest.Ruleset(t)
	j := engine.Prepare(rs).NewJudge()
	for readings, want := range map[string]picture.Span{
		// (1+r)/(1-r), r² = 0.162 and 0.182
		"{reflectance: {value: 17.2, uncertainty: 0.5}}":      {Low: 1.4025 / 0.5975, High: 1.4266 / 0.5734},
		"{ri: {above: 1.81}}":                                 {Low: 1.81, High: math.Inf(1)},
		"{ri: [1.544, 1.553]}":                                {Low: 1.542, High: 1.555},
		"{ri: {value: 1.62, uncertainty: 0.01}, colour: red}": {Low: 1.6, High: 1.64},
	} {
		c := enginetest.Case(t, rs, "read", "case: A\ntaken: 2031-03-06\nreadings: "+readings+"\n")
		p := picture.OfCase(rs, c, j.Explain(c, engine.Moment{On: time.Date(2031, 3, 6, 0, 0, 0, 0, time.UTC),
			DatedBy: "taken"}))
		if len(p.Index) != 1 || math.Abs(p.Index[0].At.Low-want.Low) > 2e-3 ||
			!(math.Abs(p.Index[0].At.High-want.High) <= 2e-3 || p.Index[0].At.High == want.High) {
			t.Errorf("%s: %+v, want %+v", readings, p.Index, want)
		}
	}
}
