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
		if e.Named != nil && !slices.ContainsFunc(p.Areas, func(a picture.Area) bool { return a.Standing == picture.Named }) {
			t.Errorf("%s: %s is named and not drawn so", name, *e.Named)
		}
		if svg := string(p.Draw().SVG); !strings.Contains(svg, "<svg") || strings.Contains(svg, "NaN") {
			t.Errorf("%s: %.80s", name, svg)
		}
	}
	if seen[picture.RuledOut] < 100 || seen[picture.Open] < 20 || seen[picture.Named] < 5 {
		t.Errorf("drawn: %v", seen)
	}
	if all := picture.OfRuleset(rs); len(all.Areas) < 40 {
		t.Errorf("the list has %d areas", len(all.Areas))
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
				continue // of weight nought: what is counted no longer matters
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
