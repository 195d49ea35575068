package bench

import (
	"fmt"
	"math"
	"strings"
	"time"

	"whystone/engine/next/feasible"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/eval"
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
	return feasible.Derived(rs, s.stone(carat, length, width, depth), func(r *casefile.Reading) bool { return r.Observable.Property == Gravity })
}

func (s Size) stone(carat, length, width, depth float64) casefile.Stone {
	return casefile.Stone{Mounted: &s.Mounted, Cut: s.Cut, Carat: &carat, Length: &length, Width: &width,
		Depth: &depth}
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
	return nil, fmt.Errorf("%w: %s", physics.ErrRange, s.unread(rs, carat))
}

// unread says why no sheet reckons such a stone: what those that could ask for and do not find.
func (s Size) unread(rs *kb.Ruleset, carat float64) string {
	says := fmt.Sprintf("no sheet of the ruleset reckons the size of a stone of %.2g ct cut as %q", carat, s.Cut)
	run := eval.New(rs)
	run.Do(&casefile.Case{Stone: s.stone(carat, s.Length.Value, s.Width.Value, s.Depth.Value)}, time.Time{})
	for _, t := range rs.Tests {
		if len(t.Derived) == 0 {
			continue
		}
		if needs := run.Needs(t); len(needs.Missing)+len(needs.Unknown) > 0 {
			return says + ". It needs: " + strings.Join(append(needs.Missing, needs.Unknown...), " ")
		}
		o := t.Derived[0].Observable
		return says + fmt.Sprintf(", %g by %g by %g mm: its %s would not lie from %s. Look at the measurements",
			s.Length.Value, s.Width.Value, s.Depth.Value, phrase.InWords(o.Name),
			phrase.FromTo(phrase.Figures(o.Span[0]), phrase.Figures(o.Span[1])))
	}
	return says
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
	// Any weight gives the proportion that leaves a specific gravity which a sheet takes: about that of a brilliant.
	some := 0.0018 * sg.Value * s.Length.Value * s.Width.Value * s.Depth.Value
	r, err := s.read(rs, some)
	if err != nil { // an outline that holds more may weigh enough
		some *= 1.5
		r, err = s.read(rs, some)
	}
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
