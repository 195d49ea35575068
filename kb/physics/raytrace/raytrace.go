// Package raytrace follows light through the cross-section of a cut stone: Snell's law, Fresnel's equations for light
// of no polarisation, total reflection beyond the critical angle. It says through which round brilliants print can be
// seen.
//
// The section is that through the middle of two opposite main facets, in the plane of the axis. Rays that run aslant
// to it, the breaking up of the image among many facets, absorption, double refraction and how well the paper is lit
// are left out: where no ray reaches the paper directly no print can be read, and where some do it may still be hard
// to.
package raytrace

import (
	"errors"
	"fmt"
	"math"
)

// ErrShape tells of proportions that no stone can have, or of an index or a tilt outside what can be traced.
var ErrShape = errors.New("no such stone can be traced")

// Vec is a place or a direction; lengths are in diameters of the stone, y points up.
type Vec struct{ X, Y float64 }

func (a Vec) plus(b Vec, k float64) Vec { return Vec{a.X + k*b.X, a.Y + k*b.Y} }
func (a Vec) dot(b Vec) float64         { return a.X*b.X + a.Y*b.Y }

func (a Vec) unit() Vec {
	l := math.Hypot(a.X, a.Y)
	return Vec{a.X / l, a.Y / l}
}

// Face is a flat face from A to B, the stone at its left.
type Face struct {
	Name string
	A, B Vec
}

// normal points out of the stone.
func (f Face) normal() Vec { return Vec{f.B.Y - f.A.Y, f.A.X - f.B.X}.unit() }

// Proportions of a round brilliant: table and girdle in parts of the diameter, angles in degrees against the girdle's
// plane.
type Proportions struct{ Table, Girdle, Crown, Pavilion float64 }

// Usual are the proportions of a brilliant of good make (common practice).
var Usual = Proportions{Table: 0.57, Girdle: 0.03, Crown: 34.5, Pavilion: 40.75}

// Depth is the whole depth in parts of the diameter.
func (p Proportions) Depth() float64 {
	return (1-p.Table)/2*tan(p.Crown) + p.Girdle + tan(p.Pavilion)/2
}

// Stone is a cross-section of an index, in air.
type Stone struct {
	Faces []Face // all around, against the clock
	Index float64
}

// Brilliant is the cross-section of a round brilliant that lies table down at y = 0, its culet up.
func Brilliant(p Proportions, index float64) (*Stone, error) {
	within := func(v, end float64) bool { return v > 0 && v < end }
	if !within(p.Table, 1) || !within(p.Girdle, 0.5) || !within(p.Crown, 80) || !within(p.Pavilion, 80) {
		return nil, fmt.Errorf("%w: a table of %g and a girdle of %g of the diameter, a crown of %g and a pavilion "+
			"of %g degrees",
			ErrShape, p.Table, p.Girdle, p.Crown, p.Pavilion)
	}
	if !(index > 1 && index < 10) {
		return nil, fmt.Errorf("%w: an index of %g", ErrShape, index)
	}
	crown := (1 - p.Table) / 2 * tan(p.Crown)
	at := []Vec{{-p.Table / 2, 0}, {p.Table / 2, 0}, {0.5, crown}, {0.5, crown + p.Girdle}, {0, p.Depth()},
		{-0.5, crown + p.Girdle}, {-0.5, crown}}
	names := []string{"table", "crown", "girdle", "pavilion", "pavilion", "girdle", "crown"}
	s := &Stone{Index: index}
	for i, a := range at {
		s.Faces = append(s.Faces, Face{names[i], a, at[(i+1)%len(at)]})
	}
	return s, nil
}

func tan(degrees float64) float64 { return math.Tan(degrees * math.Pi / 180) }

// meet is the first face that a ray meets, and how far away; ok is false where it meets none.
func (s *Stone) meet(from, dir Vec) (face Face, far float64, ok bool) {
	const beside = 1e-9 // the face that the ray has just left
	far = math.Inf(1)
	for _, f := range s.Faces {
		along := Vec{f.B.X - f.A.X, f.B.Y - f.A.Y}
		cross := dir.X*along.Y - dir.Y*along.X
		if cross == 0 {
			continue
		}
		to := Vec{f.A.X - from.X, f.A.Y - from.Y}
		t, u := (to.X*along.Y-to.Y*along.X)/cross, (to.X*dir.Y-to.Y*dir.X)/cross
		if t > beside && t < far && u >= 0 && u <= 1 {
			face, far, ok = f, t, true
		}
	}
	return face, far, ok
}

// Bend is what becomes of light that meets a face: the parts reflected and refracted, and their directions. n is the
// index on the side that it comes from over that beyond; the normal points against the light. Beyond the critical
// angle everything is reflected.
func Bend(dir, normal Vec, n float64) (reflected, refracted Vec, reflectance float64) {
	cos := -dir.dot(normal)
	reflected = dir.plus(normal, 2*cos)
	sin2 := n * n * (1 - cos*cos) // of the angle beyond, squared: Snell
	if sin2 >= 1 {
		return reflected, Vec{}, 1
	}
	beyond := math.Sqrt(1 - sin2)
	refracted = Vec{n * dir.X, n * dir.Y}.plus(normal, n*cos-beyond).unit()
	across := (n*cos - beyond) / (n*cos + beyond) // Fresnel, polarised across the plane
	within := (cos - n*beyond) / (cos + n*beyond) // and in it
	return reflected, refracted, (across*across + within*within) / 2
}

// Leg is a straight piece of a path.
type Leg struct {
	From, To Vec
	Light    float64 // the part of the light that goes along it
}

// Exit is light that leaves the stone, or that is reflected at its outside.
type Exit struct {
	Legs        []Leg // within the stone
	At, Dir     Vec
	Face        string
	Light       float64 // the part of the light that leaves here
	Reflections int     // within the stone
	Outside     bool    // reflected before it came in
}

// Trace follows light from outside until less than a part least of it is left within a path. left is what was given
// up; with the light of all exits it comes to 1. No exits: the light misses the stone.
func (s *Stone) Trace(from, dir Vec, least float64) (exits []Exit, left float64) {
	dir = dir.unit()
	face, far, ok := s.meet(from, dir)
	if !ok {
		return nil, 0
	}
	at := from.plus(dir, far)
	back, in, r := Bend(dir, face.normal(), 1/s.Index)
	exits = append(exits, Exit{At: at, Dir: back, Face: face.Name, Light: r, Outside: true})
	light, here := 1-r, in
	var legs []Leg
	for light >= least {
		face, far, ok := s.meet(at, here)
		if !ok {
			break // through a corner
		}
		to := at.plus(here, far)
		legs = append(legs, Leg{at, to, light})
		n := face.normal()
		inward, out, r := Bend(here, Vec{-n.X, -n.Y}, s.Index)
		if r < 1 {
			exits = append(exits, Exit{Legs: append([]Leg(nil), legs...), At: to, Dir: out, Face: face.Name,
				Light: light * (1 - r), Reflections: len(legs) - 1})
		}
		light, at, here = light*r, to, inward
	}
	return exits, light
}
