package picture

import (
	"fmt"
	"strconv"

	"whystone/kb/english"
	"whystone/kb/physics/raytrace"
)

// Path is light from the eye on its way, by the exit through which most of it leaves.
type Path struct {
	Through []raytrace.Vec // from outside the stone to outside
	Light   float64        // the part that leaves at its end
	Bounces int            // reflections within
	Ends    string         // on the paper directly, on the paper after reflections, elsewhere
}

// Section is the cross-section of a stone with light traced through it.
type Section struct {
	Title   string
	Outline []raytrace.Vec
	Paths   []Path
}

// Where paths end.
const (
	onPaper   = "the paper, directly"
	scrambled = "the paper, after reflections"
	elsewhere = "the room"
)

// OfRays traces so many rays of an eye, tilted by so many degrees from straight above, through a stone that lies
// table down on paper.
func OfRays(s *raytrace.Stone, tilt float64, count int) *Section {
	out := &Section{Title: fmt.Sprintf("Light through a round brilliant of index %g, eye %s", s.Index, above(tilt)),
		Outline: english.Each(s.Faces, func(f raytrace.Face) raytrace.Vec { return f.A })}
	const beyond = 0.35
	for _, from := range s.Rays(tilt, count) {
		exits, _ := s.Trace(from, raytrace.Eye(tilt), 1e-3)
		most := -1
		for i, e := range exits {
			if !e.Outside && (most < 0 || e.Light > exits[most].Light) {
				most = i
			}
		}
		if most < 0 {
			continue
		}
		e, eye := exits[most], raytrace.Eye(tilt)
		p := Path{Light: e.Light, Bounces: e.Reflections, Ends: elsewhere}
		first := e.Legs[0].From
		p.Through = append(p.Through, raytrace.Vec{X: first.X - beyond*eye.X, Y: first.Y - beyond*eye.Y}, first)
		for _, l := range e.Legs {
			p.Through = append(p.Through, l.To)
		}
		length := beyond
		switch {
		case e.Dir.Y < -1e-9 && e.Reflections == 0:
			p.Ends = onPaper
		case e.Dir.Y < -1e-9:
			p.Ends = scrambled
		}
		if p.Ends != elsewhere {
			length = min(beyond, (e.At.Y-paperAt)/-e.Dir.Y)
		}
		p.Through = append(p.Through, raytrace.Vec{X: e.At.X + length*e.Dir.X, Y: e.At.Y + length*e.Dir.Y})
		out.Paths = append(out.Paths, p)
	}
	return out
}

func above(tilt float64) string {
	if tilt == 0 {
		return "straight above"
	}
	return fmt.Sprintf("tilted by %g degrees", tilt)
}

// How paths are drawn, by where they end.
var (
	pathLooks = map[string]look{onPaper: {Stroke: "2.6"}, scrambled: {Stroke: "1.2", Dash: "5 4"},
		elsewhere: {Stroke: "0.9", Opacity: "0.7"}}
	pathClasses = map[string]string{onPaper: "ray direct", scrambled: "ray scrambled", elsewhere: "ray elsewhere"}
)

// paperAt is how far below the table the paper is drawn, in diameters.
const paperAt = -0.03

// Draw draws the outline, the paper, and each path: thick where it comes to the paper directly, so that print can be
// seen in it, thin where it goes elsewhere, broken where it comes to the paper after reflections.
func (c *Section) Draw() *Picture {
	const size = 440.0
	x := axis{from: -0.75, to: 0.75, at: 50, end: 50 + 1.5*size}
	y := axis{from: paperAt - 0.05, to: 1.05, at: 10 + (1.05-paperAt+0.05)*size, end: 10}
	s := &scene{Width: x.end + 50, Height: y.at + 10, Title: c.Title}
	to := func(v raytrace.Vec) point { return point{x.of(v.X), y.of(v.Y)} }
	s.path("stone", look{Stroke: "2.4", Fill: "0.06"}, english.Each(c.Outline, to), true, "the stone, table down")
	s.line("paper", look{Stroke: "5", Opacity: "0.55", Dash: "9 5 3 5"}, x.at, y.of(paperAt), x.end, y.of(paperAt))
	s.text("paper", look{Size: "12"}, x.end, y.of(paperAt)+18, "end", "print on paper")
	table := Table{Head: []string{"ray", "ends on", "reflections within", "percent of its light"}}
	for i, p := range c.Paths {
		style, class := pathLooks[p.Ends], pathClasses[p.Ends]
		through := english.Each(p.Through, to)
		s.path(class, style, through, false, fmt.Sprintf("ray %d ends on %s", i+1, p.Ends))
		start := through[0]
		s.text("number", look{Size: "10"}, start.x, max(start.y-4, 12), "middle", strconv.Itoa(i+1))
		light := strconv.FormatFloat(100*p.Light, 'f', 0, 64)
		table.Rows = append(table.Rows, []string{strconv.Itoa(i + 1), p.Ends, strconv.Itoa(p.Bounces), light})
	}
	return s.picture(table,
		"An eye's rays, each followed to where most of its light leaves. Thick: to the paper without a reflection, "+
			"so that print can be seen there. Broken: to the paper after reflections, which shows light and no "+
			"print. Thin: elsewhere.",
		"A cross-section: rays aslant to it, and how facets break an image up, are left out.")
}
