package raytrace

import (
	"errors"
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"whystone/kb/kbtest"
	"whystone/kb/physics"
)

func brilliant(t testing.TB, p Proportions, index float64) *Stone {
	t.Helper()
	s, err := Brilliant(p, index)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func near(t testing.TB, what string, got, want, slack float64) {
	t.Helper()
	if !(math.Abs(got-want) <= slack) {
		t.Errorf("%s = %.9g, want %.9g", what, got, want)
	}
}

const degree = math.Pi / 180

// One path by hand, with Snell's law and school geometry: glass of 1.5, an eye straight above, a ray at 0.3 of the
// diameter from the axis, in through the pavilion and out through the table.
func TestOnePathByHand(t *testing.T) {
	const n, p, x = 1.5, 40.75, 0.3
	s := brilliant(t, Usual, n)
	exits, _ := s.Trace(Vec{x, 3}, Vec{0, -1}, 1e-3)
	height := Usual.Depth() - x*math.Tan(p*degree)
	inside := p*degree - math.Asin(math.Sin(p*degree)/n) // from the axis, towards it
	foot := x - height*math.Tan(inside)
	outside := math.Asin(n * math.Sin(inside))
	if math.Abs(foot) > Usual.Table/2 {
		t.Fatal("the path misses the table: choose another")
	}
	e := exits[1]
	if e.Face != "table" || e.Reflections != 0 || len(e.Legs) != 1 {
		t.Fatalf("%+v", e)
	}
	near(t, "comes in at a height of", e.Legs[0].From.Y, height, 1e-12)
	near(t, "goes out at", e.At.X, foot, 1e-12)
	near(t, "at the table", e.At.Y, 0, 1e-12)
	near(t, "sine outside", -e.Dir.X, math.Sin(outside), 1e-12)
	// Fresnel, by the laws as textbooks write them for the angles.
	through := func(a, b float64) float64 {
		s, p := math.Sin(a-b)/math.Sin(a+b), math.Tan(a-b)/math.Tan(a+b)
		return 1 - (s*s+p*p)/2
	}
	near(t, "light", e.Light, through(p*degree, math.Asin(math.Sin(p*degree)/n))*through(inside, outside), 1e-12)
}

// Source: testdata/published/reflectance.csv (recomputed outside this code): every row's reflectance at normal
// incidence, the critical angle (just below it light still leaves, just beyond nothing does), and at Brewster's angle
// the closed form of what is reflected, half of ((n²-1)/(n²+1))².
func TestBendAgainstPublishedAngles(t *testing.T) {
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	rows := kbtest.Published(t, "reflectance.csv")
	at := func(degrees float64) Vec { return Vec{math.Sin(degrees * degree), -math.Cos(degrees * degree)} }
	for _, row := range rows {
		n, up := number(row["n_D"]), Vec{0, 1}
		_, _, r := Bend(at(0), up, 1/n)
		near(t, row["db_path"]+" reflectance", 100*r, number(row["R_percent"]), 1e-3)
		critical := number(row["critical_angle_deg"])
		if _, _, r := Bend(at(critical-2e-3), up, n); r >= 1 {
			t.Errorf("%s: nothing leaves below the critical angle", row["db_path"])
		}
		if _, _, r := Bend(at(critical+2e-3), up, n); r != 1 {
			t.Errorf("%s: %g is reflected beyond the critical angle", row["db_path"], r)
		}
		_, _, r = Bend(at(number(row["brewster_angle_deg"])), up, 1/n)
		near(t, row["db_path"]+" at Brewster's angle", r, math.Pow((n*n-1)/(n*n+1), 2)/2, 1e-5)
	}
	if len(rows) != 109 {
		t.Errorf("%d rows: the table is not whole", len(rows))
	}
}

func draw(t *rapid.T) (Proportions, float64, float64) {
	return Proportions{
		Table: rapid.Float64Range(0.3, 0.8).Draw(t, "table"), Girdle: rapid.Float64Range(0.005, 0.1).Draw(t, "girdle"),
		Crown: rapid.Float64Range(15, 50).Draw(t, "crown"), Pavilion: rapid.Float64Range(30, 55).Draw(t, "pavilion"),
	}, rapid.Float64Range(1.3, 3).Draw(t, "index"), rapid.Float64Range(-50, 50).Draw(t, "tilt")
}

// No light is lost or made, and Snell's law holds at every exit: what leaves and what is given up is what came.
func TestEnergy(t *testing.T) {
	hits := 0
	rapid.Check(t, func(t *rapid.T) {
		p, n, tilt := draw(t)
		s, err := Brilliant(p, n)
		if err != nil {
			t.Fatal(err)
		}
		for _, from := range s.Rays(tilt, 20) {
			exits, left := s.Trace(from, Eye(tilt), 1e-5)
			sum := left
			for _, e := range exits {
				sum += e.Light
				if e.Light < 0 || math.Abs(math.Hypot(e.Dir.X, e.Dir.Y)-1) > 1e-12 {
					t.Errorf("light %g in direction %v", e.Light, e.Dir)
				}
				if e.Outside {
					continue
				}
				hits++
				last := e.Legs[len(e.Legs)-1]
				along := last.To.plus(last.From, -1).unit()
				if e.Reflections > 0 || math.Hypot(last.To.X-last.From.X, last.To.Y-last.From.Y) > 1e-6 {
					face := s.Faces[faceAt(s, e.At)]
					normal := face.normal()
					in, out := math.Abs(along.X*normal.Y-along.Y*normal.X), math.Abs(e.Dir.X*normal.Y-e.Dir.Y*normal.X)
					if math.Abs(n*in-out) > 1e-6 {
						t.Errorf("n sin inside %g, sin outside %g", n*in, out)
					}
				}
			}
			if len(exits) > 0 && math.Abs(sum-1) > 1e-12 {
				t.Errorf("%g of the light is accounted for", sum)
			}
		}
	})
	kbtest.Drawn(t, "exits", hits, 2000)
}

// faceAt is the face nearest to a place.
func faceAt(s *Stone, at Vec) int {
	best, far := 0, math.Inf(1)
	for i, f := range s.Faces {
		n := f.normal()
		beyond := Vec{at.X - f.A.X, at.Y - f.A.Y}
		along := Vec{f.B.X - f.A.X, f.B.Y - f.A.Y}
		if u := beyond.dot(along) / along.dot(along); u < -1e-9 || u > 1+1e-9 {
			continue
		}
		if d := math.Abs(beyond.dot(n)); d < far {
			best, far = i, d
		}
	}
	return best
}

// Light sent back the way it left comes out where it came in, and as much of it: what an eye sees of the paper is
// what the paper sends to the eye.
func TestReversibility(t *testing.T) {
	checked := 0
	rapid.Check(t, func(t *rapid.T) {
		p, n, tilt := draw(t)
		s, err := Brilliant(p, n)
		if err != nil {
			t.Fatal(err)
		}
		for _, from := range s.Rays(tilt, 7) {
			exits, _ := s.Trace(from, Eye(tilt), 1e-3)
			for _, e := range exits {
				if e.Outside || e.Reflections > 3 || e.Light < 1e-3 || s.cornered(e) {
					continue
				}
				in := e.Legs[0].From
				back, _ := s.Trace(e.At.plus(e.Dir, 4), Vec{-e.Dir.X, -e.Dir.Y}, 1e-5)
				found := false
				for _, b := range back {
					if !b.Outside && b.Reflections == e.Reflections && math.Hypot(b.At.X-in.X, b.At.Y-in.Y) < 1e-6 {
						found = true
						if math.Abs(b.Light/e.Light-1) > 1e-6 || b.Dir.dot(Eye(tilt)) > -1+1e-9 {
							t.Errorf("there %g of the light, back %g, in direction %v", e.Light, b.Light, b.Dir)
						}
					}
				}
				if checked++; !found {
					t.Errorf("light that leaves at %v does not come back to %v", e.At, in)
				}
			}
		}
	})
	kbtest.Drawn(t, "paths", checked, 1000)
}

// cornered tells of a path that meets a corner, where there is no one face.
func (s *Stone) cornered(e Exit) bool {
	for _, f := range s.Faces {
		for _, l := range e.Legs {
			for _, at := range []Vec{l.From, l.To} {
				if math.Hypot(at.X-f.A.X, at.Y-f.A.Y) < 1e-6 {
					return true
				}
			}
		}
	}
	return false
}

// The critical angle's limit: below the index of the closed form light comes directly through the table, from it on
// none does.
func TestLimitOfTheTable(t *testing.T) {
	through := func(s *Stone) bool {
		for _, from := range s.Rays(0, 400) {
			exits, _ := s.Trace(from, Eye(0), 1e-3)
			for _, e := range exits {
				if !e.Outside && e.Reflections == 0 && e.Face == "table" {
					return true
				}
			}
		}
		return false
	}
	for pavilion := 36.0; pavilion <= 46; pavilion += 0.5 {
		p := Usual
		p.Pavilion = pavilion
		n := LargestIndex(pavilion)
		if !through(brilliant(t, p, n-1e-4)) || through(brilliant(t, p, n+1e-4)) {
			t.Errorf("a pavilion of %g degrees: the limit is not %.4f", pavilion, n)
		}
		// What the limit says: inside, the ray meets the table at the critical angle.
		near(t, "angle at the table", pavilion-math.Asin(math.Sin(pavilion*degree)/n)/degree, physics.CriticalAngle(n),
			1e-9)
		back, err := ShallowestPavilion(n)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "pavilion of that limit", back, pavilion, 1e-9)
	}
}

// What is said of the test in the shipped rules, in figures: a brilliant of good make, an eye straight above.
func TestReadingThroughByIndex(t *testing.T) {
	for name, c := range map[string]struct{ index, least, most float64 }{
		"quartz":     {1.547, 0.6, 0.75},
		"sapphire":   {1.766, 0.6, 0.7},
		"zirconia":   {2.158, 0.5, 0.62},
		"diamond":    {2.417, 0, 0.002},
		"moissanite": {2.65, 0, 0.03},
	} {
		v, err := brilliant(t, Usual, c.index).Look(0)
		if err != nil || v.Direct < c.least || v.Direct > c.most {
			t.Errorf("%s: %+v, %v", name, v, err)
		}
		near(t, name+", all", v.Direct+v.Scrambled+v.Room, 1, 0.01)
		a, _ := brilliant(t, Usual, c.index).Look(12)
		b, _ := brilliant(t, Usual, c.index).Look(-12)
		near(t, name+", tilted to the other side", a.Direct, b.Direct, 1e-9)
	}
	// A shallow diamond lets print through, and so does one that is tilted.
	shallow := Usual
	shallow.Pavilion = 38
	if v, _ := brilliant(t, shallow, 2.417).Look(0); v.Direct < 0.2 {
		t.Errorf("a shallow diamond: %+v", v)
	}
	if v, _ := brilliant(t, Usual, 2.417).Look(10); v.Direct < 0.15 {
		t.Errorf("a tilted diamond: %+v", v)
	}
}

// Directly is by one straight piece within the stone, counted from the paths themselves.
func TestDirectIsOneLeg(t *testing.T) {
	for _, index := range []float64{1.55, 2.16, 2.65} {
		s := brilliant(t, Usual, index)
		for _, tilt := range []float64{0, 14} {
			direct, scrambled := 0.0, 0.0
			rays := s.Rays(tilt, 600)
			for _, from := range rays {
				exits, _ := s.Trace(from, Eye(tilt), least)
				for _, e := range exits {
					switch {
					case e.Dir.Y >= -1e-9 || len(e.Legs) == 0:
					case len(e.Legs) == 1:
						direct += e.Light / float64(len(rays))
					default:
						scrambled += e.Light / float64(len(rays))
					}
				}
			}
			v, err := s.Look(tilt)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "direct", v.Direct, direct, 1e-9)
			near(t, "after reflections", v.Scrambled, scrambled, 1e-9)
			if scrambled < 0.005 {
				t.Errorf("index %g, tilt %g: nothing comes after reflections, so nothing is told apart", index, tilt)
			}
		}
	}
}

func TestRefusals(t *testing.T) {
	bad := Usual
	bad.Table = 1
	_, err := Brilliant(bad, 2)
	_, err2 := Brilliant(Usual, 1)
	_, err3 := brilliant(t, Usual, 2).Look(80)
	_, err4 := ShallowestPavilion(20)
	_, err5 := Brilliant(Proportions{Table: math.NaN(), Girdle: 0.03, Crown: 34, Pavilion: 41}, 2)
	for i, err := range []error{err, err2, err3, err4, err5} {
		if !errors.Is(err, ErrShape) {
			t.Errorf("%d: %v", i, err)
		}
	}
	if exits, left := brilliant(t, Usual, 2).Trace(Vec{3, 3}, Vec{0, -1}, 1e-3); len(exits) != 0 || left != 0 {
		t.Errorf("a ray beside the stone: %v, %g", exits, left)
	}
}
