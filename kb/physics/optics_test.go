package physics

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Source: testdata/published/reflectance.csv (computed outside this code from a CC0 database's indices), to the
// digits printed.
func TestPublishedReflectance(t *testing.T) {
	rows := published(t, "reflectance.csv")
	for _, row := range rows {
		n := number(t, row["n_D"])
		printedFrom(t, row["db_path"]+" reflectance", n, row["R_percent"], Reflectance)
		printedFrom(t, row["db_path"]+" critical angle", n, row["critical_angle_deg"], CriticalAngle)
		printedFrom(t, row["db_path"]+" Brewster angle", n, row["brewster_angle_deg"], BrewsterAngle)
		within(t, row["db_path"]+" back", IndexFromReflectance(Reflectance(n)), n, 1e-12)
	}
	if len(rows) != 109 {
		t.Errorf("%d rows: the table is not whole", len(rows))
	}
}

// printedFrom allows for both roundings of a table: that of the figure and that of the index it was computed from (5
// decimals).
func printedFrom(t *testing.T, what string, n float64, want string, f func(float64) float64) {
	t.Helper()
	a, b := f(n-5e-6), f(n+5e-6)
	w := number(t, want)
	if !(w >= min(a, b)-0.00050001 && w <= max(a, b)+0.00050001) {
		t.Errorf("%s = %.6f to %.6f, printed %s", what, a, b, want)
	}
}

// What a depth and a deviation tell of the index is Snell's law backwards.
func TestIndexFromDepthAndDeviation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, angle := rapid.Float64Range(1.05, 3).Draw(t, "n"), rapid.Float64Range(5, 35).Draw(t, "angle")
		if back := must(DepthRatio(3, ApparentDepth(3, n))); math.Abs(back-n) > 1e-12 {
			t.Errorf("index by depth %g, want %g", back, n)
		}
		// The symmetrical path: inside it meets either face at half the prism's angle.
		in := math.Asin(n * math.Sin(angle*math.Pi/360))
		if got := must(LeastDeviation(angle, 2*degrees(in)-angle)); math.Abs(got-n) > 1e-9 {
			t.Errorf("index by deviation %g, want %g", got, n)
		}
	})
	for _, err := range []error{second(DepthRatio(1, 2)), second(DepthRatio(1, 0)), second(LeastDeviation(0, 1)),
		second(LeastDeviation(100, 90))} {
		if !errors.Is(err, ErrRange) {
			t.Errorf("%v, want %v", err, ErrRange)
		}
	}
	// Light that meets a real depth of 4 mm at a small slant: the line of sight, drawn on straight, ends 4/n deep.
	const n, slant = 2.417, 1e-4
	inside := math.Asin(math.Sin(slant) / n)
	within(t, "apparent depth", 4*math.Tan(inside)/math.Tan(slant), ApparentDepth(4, n), 1e-7)
}

func second(_ float64, err error) error { return err }
