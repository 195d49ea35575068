package rulesets_test

import (
	"math"
	"slices"
	"testing"

	"whystone/engine/bench"
	"whystone/kb"
	"whystone/kb/physics/raytrace"
)

// What the sheets say of print seen through a stone rests on rays traced through a brilliant of good make: where no
// light comes from the paper directly no sheet says that print is seen often, and where most of the view does, a
// transparent stone of a low index shows it often or more.
func TestSheetsOfReadingThroughAgainstOptics(t *testing.T) {
	rs := desk(t)
	list, err := bench.ReadThroughs(rs, raytrace.Usual, 0)
	if err != nil {
		t.Fatal(err)
	}
	often := []kb.Frequency{kb.Always, kb.Usually, kb.Often}
	seen, unseen := 0, 0
	for _, l := range list {
		f := l.Of.Choices["read_through"]
		if f == nil || l.ID == "foil-backed-paste" { // its foil hides the paper
			continue
		}
		says := slices.Contains(often, f.Words["print visible"])
		switch {
		case l.Print == bench.CantBeSeen:
			if unseen++; says {
				t.Errorf("%s: print can't be seen through it, and its sheet says %q", l.ID,
					f.Words["print visible"])
			}
		case l.Print == bench.CanBeSeen && l.Index[1] < 1.9 && transparent(l.Of):
			if seen++; !says {
				t.Errorf("%s: print can be seen through it, and its sheet says %q", l.ID,
					f.Words["print visible"])
			}
		}
	}
	if seen < 15 || unseen < 5 {
		t.Errorf("%d sheets of stones through which print can be seen, %d of others", seen, unseen)
	}
}

func transparent(m *kb.Material) bool {
	f := m.Choices["transparency"]
	return f == nil || f.Words["transparent"] == kb.Always || f.Words["transparent"] == kb.Usually
}

// The rule on shallow stones: below a depth of 0.55 of the width a diamond lets print through, whatever its crown of
// usual make; at the depth of good make it does not, and from 39.8 degrees of pavilion down it does.
func TestShallowStonesAgainstOptics(t *testing.T) {
	tried := 0
	for _, table := range []float64{0.53, 0.57, 0.6} {
		for crown := 30.0; crown <= 36; crown++ {
			for _, girdle := range []float64{0.02, 0.03, 0.05} {
				p := raytrace.Proportions{Table: table, Girdle: girdle, Crown: crown, Pavilion: 40}
				p.Pavilion = math.Atan(2*(0.549-girdle-(1-table)/2*math.Tan(crown*math.Pi/180))) * 180 / math.Pi
				if tried++; math.Abs(p.Depth()-0.549) > 1e-9 {
					t.Fatalf("a depth of %g", p.Depth())
				}
				l, err := bench.ReadThroughOf(p, 2.416, 2.42, 0)
				if err != nil || l.Print != bench.CanBeSeen {
					t.Errorf("table %g, crown %g, girdle %g, pavilion %.1f: %v, %v", table, crown, girdle, p.Pavilion,
						l, err)
				}
			}
		}
	}
	usual, err := bench.ReadThroughOf(raytrace.Usual, 2.416, 2.42, 0)
	if err != nil || usual.Print != bench.CantBeSeen {
		t.Errorf("a diamond of good make: %v, %v", usual, err)
	}
	if limit, err := raytrace.ShallowestPavilion(2.417); err != nil || math.Abs(limit-39.8) > 0.05 {
		t.Errorf("the limit is %.2f degrees, %v; the rule's source says 39.8", limit, err)
	}
}
