package bench

import (
	"fmt"
	"math"

	"whystone/engine/next/feasible"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/physics"
	"whystone/kb/quantity"
)

// Measured is a measurement with its standard uncertainty; 0: what the sheet's figure holds already.
type Measured struct{ Value, U float64 }

// Size is a stone as a gauge and a balance have it.
type Size struct {
	Cut                         string // lower case
	Mounted                     bool
	Carat, Length, Width, Depth Measured // ct, mm
}

// reading is the specific gravity that the ruleset reckons of such a stone, as a case of it has it; nil: it reckons
// none.
func (s Size) reading(rs *kb.Ruleset, carat, length, width, depth float64) *casefile.Reading {
	stone := casefile.Stone{Mounted: &s.Mounted, Cut: s.Cut, Carat: &carat, Length: &length, Width: &width,
		Depth: &depth}
	return feasible.Derived(rs, stone, func(r *casefile.Reading) bool { return r.Observable.Property == Gravity })
}

// read is the same, or the reason why there is none.
func (s Size) read(rs *kb.Ruleset, carat float64) (*casefile.Reading, error) {
	names := [...]string{"weight", "length", "width", "depth"}
	for i, m := range []Measured{{carat, s.Carat.U}, s.Length, s.Width, s.Depth} {
		if !(m.Value > 0) || m.U > m.Value {
			return nil, fmt.Errorf("%w: a %s of %g ± %g", physics.ErrRange, names[i], m.Value, m.U)
		}
	}
	if r := s.reading(rs, carat, s.Length.Value, s.Width.Value, s.Depth.Value); r != nil {
		return r, nil
	}
	return nil, fmt.Errorf("%w: no sheet of the ruleset reckons the size of a stone of %.2g ct cut as %q",
		physics.ErrRange, carat, s.Cut)
}

// Gravity is the specific gravity that the weight and the measurements imply, with its budget and the reading that a
// case of this stone has.
func (s Size) Gravity(rs *kb.Ruleset) (*quantity.Budget, *casefile.Reading, error) {
	r, err := s.read(rs, s.Carat.Value)
	if err != nil {
		return nil, nil, err
	}
	b, err := s.budget(r, quantity.Input{Name: "weight", Unit: "ct", Value: s.Carat.Value, U: s.Carat.U},
		func(x []float64) float64 {
			return valueOf(s.reading(rs, x[3], x[0], x[1], x[2]))
		})
	if err == nil && s.Carat.U+s.Length.U+s.Width.U+s.Depth.U == 0 {
		b.U = r.U // to the last digit
	}
	return b, r, err
}

// Weight is what a stone of these measurements weighs if it has a specific gravity, with its budget and the reading
// behind it. What a sheet reckons goes with the weight in proportion.
func (s Size) Weight(rs *kb.Ruleset, sg Measured) (*quantity.Budget, *casefile.Reading, error) {
	const some = 1 // ct: any weight gives the proportion
	r, err := s.read(rs, some)
	if err != nil {
		return nil, nil, err
	}
	if r, err = s.read(rs, some*sg.Value/r.Value); err != nil {
		return nil, nil, err
	}
	b, err := s.budget(r, quantity.Input{Name: "specific gravity", Value: sg.Value, U: sg.U},
		func(x []float64) float64 {
			return some * x[3] / valueOf(s.reading(rs, some, x[0], x[1], x[2]))
		})
	return b, r, err
}

func valueOf(r *casefile.Reading) float64 {
	if r == nil {
		return math.NaN()
	}
	return r.Value
}

// budget propagates what follows from the measurements and one figure more, times a factor of about 1 for what the
// sheet says that the make of the stone leaves open.
func (s Size) budget(r *casefile.Reading, more quantity.Input, f func(x []float64) float64) (*quantity.Budget, error) {
	mm := func(name string, m Measured) quantity.Input {
		return quantity.Input{Name: name, Unit: "mm", Value: m.Value, U: m.U, From: "as given"}
	}
	more.From = "as given"
	in := []quantity.Input{mm("length", s.Length), mm("width", s.Width), mm("depth", s.Depth), more,
		{Name: "make and measuring", Value: 1, U: r.U / r.Value, From: r.Note}}
	return quantity.Propagate(in, func(x []float64) (float64, error) { return f(x) * x[4], nil })
}
