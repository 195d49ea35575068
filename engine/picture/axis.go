package picture

import (
	"math"
	"strconv"
)

// axis leads from figures to places in the drawing.
type axis struct {
	from, to float64 // figures
	at, end  float64 // places
	log      bool
}

func (a axis) of(v float64) float64 {
	v = clamp(min(a.from, a.to), v, max(a.from, a.to))
	f := (v - a.from) / (a.to - a.from)
	if a.log {
		f = math.Log(v/a.from) / math.Log(a.to/a.from)
	}
	return a.at + f*(a.end-a.at)
}

// ticks are round figures along the axis, about so many.
func (a axis) ticks(about int) []float64 {
	if a.log {
		return a.decades()
	}
	step := math.Pow(10, math.Floor(math.Log10((a.to-a.from)/float64(about))))
	for _, f := range []float64{1, 2, 5, 10} {
		if (a.to-a.from)/(step*f) <= float64(about) {
			step *= f
			break
		}
	}
	var out []float64
	for i := math.Ceil(a.from/step-1e-9) + 0; i*step <= a.to+1e-9*step; i++ {
		out = append(out, i*step)
	}
	return out
}

// decades are 1, 2 and 5 in each power of ten.
func (a axis) decades() []float64 {
	var out []float64
	for e := math.Floor(math.Log10(a.from)); e <= math.Log10(a.to); e++ {
		for _, f := range []float64{1, 2, 5} {
			if v := f * math.Pow(10, e); v >= a.from*0.999 && v <= a.to*1.001 {
				out = append(out, v)
			}
		}
	}
	return out
}

// figure writes a figure of an axis.
func figure(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }

var (
	faint  = look{Stroke: "1", Opacity: "0.14"}
	frame  = look{Stroke: "1", Opacity: "0.55"}
	strong = look{Weight: "bold"}
	soft   = look{Opacity: "0.75"}
)

// axes draws the frame of two axes with their ticks and names.
func (s *scene) axes(x, y axis, nameX, nameY string) {
	for _, v := range x.ticks(8) {
		s.line("grid", faint, x.of(v), y.at, x.of(v), y.end)
		s.text("tick", soft, x.of(v), y.at+17, "middle", figure(v))
	}
	s.rising(x, y, 8)
	s.text("axis", look{}, (x.at+x.end)/2, y.at+36, "middle", nameX)
	s.upright("axis", look{}, x.at-44, (y.at+y.end)/2, nameY)
}

// rising draws the frame with about so many ticks of the axis that rises.
func (s *scene) rising(x, y axis, about int) {
	for _, v := range y.ticks(about) {
		s.line("grid", faint, x.at, y.of(v), x.end, y.of(v))
		s.text("tick", soft, x.at-6, y.of(v)+4.5, "end", figure(v))
	}
	s.rect("frame", frame, x.at, y.at, x.end, y.end, "")
}
