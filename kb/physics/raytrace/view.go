package raytrace

import (
	"fmt"
	"math"
)

// View is where the light that reaches an eye above a stone, which lies table down on paper, comes from. All are
// parts of the light over the width of the stone; by reversibility the eye's ray is traced.
type View struct {
	Direct    float64 // from the paper, without a reflection within the stone: print can be seen in it
	Scrambled float64 // from the paper after reflections: light, and no print
	Room      float64 // from above or from the side
}

// least is how little light is still followed.
const least = 1e-4

// Eye is the direction in which an eye looks that is tilted by so many degrees from straight above.
func Eye(tilt float64) Vec {
	sin, cos := math.Sincos(tilt * math.Pi / 180)
	return Vec{sin, -cos}
}

// Rays are starts of so many rays of an eye, evenly over the width that it sees of the stone.
func (s *Stone) Rays(tilt float64, count int) []Vec {
	dir := Eye(tilt)
	across := Vec{-dir.Y, dir.X}
	low, high := math.Inf(1), math.Inf(-1)
	for _, f := range s.Faces {
		low, high = min(low, f.A.dot(across)), max(high, f.A.dot(across))
	}
	out := make([]Vec, count)
	for i := range out {
		k := low + (high-low)*(float64(i)+0.5)/float64(count)
		out[i] = Vec{across.X * k, across.Y * k}.plus(dir, -5)
	}
	return out
}

// paper tells whether light that leaves comes down on the paper.
func (e *Exit) paper() bool { return !e.Outside && e.Dir.Y < -1e-9 }

// Look traces an eye's rays, by default enough of them.
func (s *Stone) Look(tilt float64) (View, error) {
	const rays = 600
	if !(math.Abs(tilt) <= 60) {
		return View{}, fmt.Errorf("%w: a tilt of %g degrees, wanted at most 60", ErrShape, tilt)
	}
	var v View
	for _, from := range s.Rays(tilt, rays) {
		exits, left := s.Trace(from, Eye(tilt), least)
		v.Room += left / rays
		for i := range exits {
			switch e := &exits[i]; {
			case !e.paper():
				v.Room += e.Light / rays
			case e.Reflections == 0:
				v.Direct += e.Light / rays
			default:
				v.Scrambled += e.Light / rays
			}
		}
	}
	return v, nil
}

// LargestIndex is the index from which on no light of an eye straight above comes directly through the table, for a
// pavilion of so many degrees: sqrt(sin²p + (1/sin p + cos p)²). A ray that comes in through the pavilion is bent to
// p - asin(sin p/n) from the axis, and is reflected totally at the table where n sin of that is 1 or more.
func LargestIndex(pavilion float64) float64 {
	sin, cos := math.Sincos(pavilion * math.Pi / 180)
	return math.Hypot(sin, 1/sin+cos)
}

// ShallowestPavilion is the pavilion in degrees below which a stone of an index lets light of an eye straight above
// through its table, the inverse of LargestIndex, which falls from 0 to some 60 degrees; ErrShape for an index
// outside its reach.
func ShallowestPavilion(index float64) (float64, error) {
	low, high := 5.0, 60.0
	if !(index < LargestIndex(low) && index > LargestIndex(high)) {
		return 0, fmt.Errorf("%w: an index of %g", ErrShape, index)
	}
	for range 60 {
		if middle := (low + high) / 2; LargestIndex(middle) > index {
			low = middle
		} else {
			high = middle
		}
	}
	return (low + high) / 2, nil
}
