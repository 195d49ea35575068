package picture

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
)

// Standing is what became of a material.
type Standing int

// The standings; a material of a picture without a case is Open.
const (
	RuledOut Standing = iota
	Open
	Named
)

var standingWords = [...]string{"ruled out", "not ruled out", "named"}

// Span is from one figure to another; an end may be infinite.
type Span struct{ Low, High float64 }

func (s Span) text(decimals int) string {
	f := func(v float64) string { return strconv.FormatFloat(v, 'f', decimals, 64) }
	switch {
	case math.IsInf(s.High, 1):
		return "above " + f(s.Low)
	case math.IsInf(s.Low, -1):
		return "below " + f(s.High)
	}
	return f(s.Low) + " to " + f(s.High)
}

// Area is a material's ranges of index and specific gravity.
type Area struct {
	Name           string
	Index, Density Span
	Standing       Standing
}

// Reading is what was read of the stone along one axis: the interval of value ± 2u, or hard limits.
type Reading struct {
	Says string // "hydrostatic weighing 3.52 ± 0.03"
	At   Span
}

// Plane is index of refraction against specific gravity.
type Plane struct {
	Title          string
	Areas          []Area
	Index, Density []Reading
}

// Draw draws the plane. Materials that are not ruled out are outlined thickly and named; those that are bear a small
// number, which is that of their row in the table.
func (p *Plane) Draw() *Picture {
	areas := slices.Clone(p.Areas)
	slices.SortStableFunc(areas, func(a, b Area) int {
		return cmp.Or(cmp.Compare(b.Standing, a.Standing), cmp.Compare(a.Density.Low, b.Density.Low),
			cmp.Compare(a.Name, b.Name))
	})
	s := &scene{Width: 760, Height: 560, Title: p.Title}
	x, y := p.scales(areas)
	table := Table{Head: []string{"", "material", "index of refraction", "specific gravity", "standing"}}
	l := &labels{frame: box{x.at + 2, y.end + 2, x.end - 2, y.at - 2}}
	p.readings(s, x, y, l)
	boxes := make([]box, len(areas))
	for i, a := range slices.Backward(areas) { // what matters comes to lie on top
		boxes[i] = area(s, x, y, a)
	}
	for i, a := range areas {
		table.Rows = append(table.Rows, []string{strconv.Itoa(i + 1), a.Name, a.Index.text(3), a.Density.text(2),
			standingWords[a.Standing]})
		if a.Standing == RuledOut {
			l.place(s, "number", look{Opacity: "0.7", Size: "9"}, 9, strconv.Itoa(i+1), boxes[i]) // where there is room
			continue
		}
		look := look{}
		if a.Standing == Named {
			look = strong
		}
		if !l.place(s, "label", look, 13, a.Name, boxes[i]) { // better on another than nowhere
			s.text("label", look, (boxes[i].x1+boxes[i].x2)/2, boxes[i].y1, "middle", a.Name)
		}
	}
	s.axes(x, y, "specific gravity", "index of refraction")
	for _, r := range append(slices.Clone(p.Index), p.Density...) {
		table.Rows = append(table.Rows, []string{"", "reading: " + r.Says, "", "", ""})
	}
	return s.picture(table, p.notes()...)
}

func (p *Plane) notes() []string {
	out := []string{"Each box is a material's range. Thick: not ruled out; thickest and filled: named; thin and " +
		"broken: ruled out, with its number in the table."}
	if len(p.Index)+len(p.Density) > 0 {
		out = append(out, "The shaded bands are the stone's readings with their expanded uncertainty (k = 2); "+
			"where they cross the stone should lie.")
	}
	if !slices.ContainsFunc(p.Areas, func(a Area) bool { return a.Standing == RuledOut }) {
		out[0] = "Each box is a material's range."
	}
	return out
}

// scales are the axes: as far as materials and readings reach.
func (p *Plane) scales(areas []Area) (x, y axis) {
	density, index := Span{1, 3}, Span{1.42, 1.6}
	for _, a := range areas {
		density.take(a.Density)
		index.take(a.Index)
	}
	for _, r := range p.Density {
		density.take(r.At)
	}
	for _, r := range p.Index {
		index.take(r.At)
	}
	pad := func(s Span, by float64) Span { return Span{s.Low - by, s.High + by} }
	density, index = pad(density, 0.15), pad(index, 0.03)
	return axis{from: density.Low, to: density.High, at: 62, end: 748},
		axis{from: index.Low, to: index.High, at: 512, end: 10}
}

func (s *Span) take(o Span) {
	for _, v := range []float64{o.Low, o.High} {
		if !math.IsInf(v, 0) {
			s.Low, s.High = min(s.Low, v), max(s.High, v)
		}
	}
}

var areaLooks = map[Standing]look{
	RuledOut: {Stroke: "0.8", Opacity: "0.55", Dash: "2 2"},
	Open:     {Stroke: "1.8"},
	Named:    {Stroke: "3", Fill: "0.18"},
}

// area draws a material; a range of next to nothing is widened so that it is seen.
func area(s *scene, x, y axis, a Area) box {
	const least = 4
	b := box{x.of(a.Density.Low), y.of(a.Index.High), x.of(a.Density.High), y.of(a.Index.Low)}
	if d := least - (b.x2 - b.x1); d > 0 {
		b.x1, b.x2 = b.x1-d/2, b.x2+d/2
	}
	if d := least - (b.y2 - b.y1); d > 0 {
		b.y1, b.y2 = b.y1-d/2, b.y2+d/2
	}
	class := [...]string{"range ruled-out", "range open", "range named"}[a.Standing]
	s.rect(class, areaLooks[a.Standing], b.x1, b.y1, b.x2, b.y2, fmt.Sprintf("%s: %s", a.Name,
		standingWords[a.Standing]))
	return b
}

var bandLook = look{Fill: "0.1", Stroke: "1", Opacity: "0.5", Dash: "6 3"}

// readings draws each reading as a band across the plane.
func (p *Plane) readings(s *scene, x, y axis, l *labels) {
	for i, r := range p.Density {
		s.rect("reading", bandLook, x.of(r.At.Low), y.at, x.of(r.At.High), y.end, r.Says)
		at := box{x.of(r.At.Low), y.end + 6 + 18*float64(i), x.of(r.At.High), y.end + 18 + 18*float64(i)}
		l.place(s, "reading", look{Size: "12"}, 12, r.Says, at)
	}
	for _, r := range p.Index {
		s.rect("reading", bandLook, x.at, y.of(r.At.Low), x.end, y.of(r.At.High), r.Says)
		middle := y.of(max(r.At.Low, y.from))
		if !math.IsInf(r.At.High, 0) {
			middle = (y.of(max(r.At.Low, y.from)) + y.of(min(r.At.High, y.to))) / 2
		}
		l.place(s, "reading", look{Size: "12"}, 12, r.Says, box{x.end - 6, middle - 6, x.end - 4, middle + 6})
	}
}
