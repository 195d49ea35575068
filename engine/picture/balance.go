package picture

import (
	"fmt"
	"math"
	"slices"

	"whystone/engine/bench"
	"whystone/kb"
	"whystone/kb/english"
	"whystone/kb/physics"
)

// Curve is how one thing goes with another, from left to right.
type Curve struct {
	Says   string
	Points [][2]float64
}

// Level is a material beside the stone's specific gravity.
type Level struct {
	Says string
	At   float64 // the difference in specific gravity
	From float64 // the weight from which on it is told apart, ct; 0: at none that is drawn
}

// Balance is what weighing in a liquid can tell apart, by weight of the stone.
type Balance struct {
	Title string
	// the smallest difference in specific gravity that is told, against weight in ct; the first is the stone's balance
	Curves []Curve
	Levels []Level
	Weight float64 // of the stone, ct
}

// Draw draws the picture on scales of powers: what lies above the curve at a weight is told apart.
func (b *Balance) Draw() *Picture {
	x, y := axis{from: 0.05, to: 10, at: 62, end: 560, log: true}, axis{from: 0.005, to: 2, at: 412, end: 10, log: true}
	x.from, x.to = min(x.from, max(b.Weight/2, 0.01)), max(x.to, b.Weight*1.5)
	s := &scene{Width: 760, Height: 460, Title: b.Title}
	table := Table{Head: []string{"material", "difference in specific gravity", "told apart from"}}
	l := &labels{frame: box{x.end + 4, y.end, 758, y.at}}
	for _, v := range b.Levels {
		from := "no weight up to 100 ct"
		if v.From > 0 {
			from = figure(round2(v.From)) + " ct"
		}
		table.Rows = append(table.Rows, []string{v.Says, figure(round2(v.At)), from})
		if v.At >= y.from && v.At <= y.to {
			s.line("level", look{Stroke: "1", Opacity: "0.6", Dash: "5 3"}, x.at, y.of(v.At), x.end, y.of(v.At))
			l.down(s, v.Says, x.end+6, y.of(v.At)+4)
		}
	}
	for i, c := range b.Curves {
		style := [...]look{{Stroke: "2.4"}, {Stroke: "1.6", Dash: "8 3"}, {Stroke: "1.6", Dash: "2 3"}}[min(i, 2)]
		at := english.Only(c.Points, func(p [2]float64) (point, bool) {
			return point{x.of(p[0]), y.of(p[1])}, p[0] >= x.from && p[0] <= x.to && p[1] >= y.from && p[1] <= y.to
		})
		s.path("curve", style, at, false, c.Says)
		if len(at) > 0 {
			s.text("curve", look{Size: "12"}, at[0].x+14, at[0].y+2, "start", c.Says)
		}
		table.Rows = append(table.Rows, c.rows()...)
	}
	if b.Weight > 0 {
		s.line("weight", look{Stroke: "1.4"}, x.of(b.Weight), y.at, x.of(b.Weight), y.end)
		s.text("weight", strong, x.of(b.Weight)+5, y.end+16, "start", "this stone, "+figure(b.Weight)+" ct")
	}
	s.axes(x, y, "weight of the stone, ct", "difference in specific gravity")
	return s.picture(table, "A material whose line lies above the curve at a weight is ruled out by weighing a stone "+
		"of that weight; one below it is not.")
}

// rows are a curve's figures at a few round weights.
func (c Curve) rows() [][]string {
	var out [][]string
	for _, carat := range []float64{0.1, 0.2, 0.5, 1, 2, 5, 10} {
		for _, p := range c.Points {
			if math.Abs(p[0]/carat-1) < 1e-9 {
				out = append(out, []string{c.Says + ", " + figure(carat) + " ct", figure(round2(p[1])), ""})
			}
		}
	}
	return out
}

// down writes a label at the right of its line, or lower where others stand.
func (l *labels) down(s *scene, text string, x, y float64) {
	const size = 11
	for away := 0.0; away < 200; away += size / 2 {
		for _, at := range []float64{y + away, y - away} {
			room := box{x, at - size*0.8, x + widthOf(text, size), at + size*0.2}
			if at-size >= l.frame.y1 && at <= l.frame.y2 && l.take(room) {
				s.text("level", look{Size: "11"}, x, at, "start", text)
				return
			}
		}
	}
}

// round2 keeps two figures.
func round2(v float64) float64 {
	if v == 0 || math.IsInf(v, 0) {
		return v
	}
	scale := math.Pow(10, 1-math.Floor(math.Log10(math.Abs(v))))
	return math.Round(v*scale) / scale
}

// mostLevels is how many materials beside the stone are drawn.
const mostLevels = 8

// OfBalance is what weighing a stone of a specific gravity tells apart, on the balance of a weighing and on one ten
// times finer, with the nearest materials beside it.
func OfBalance(rs *kb.Ruleset, w physics.Weighing, sg float64, near []bench.Beside) *Balance {
	out := &Balance{Title: fmt.Sprintf("What weighing tells apart from a stone of specific gravity %.2f", sg),
		Weight: w.InAir}
	for _, part := range []float64{1, 0.1} {
		v := w
		v.Repeats = w.Repeats * part
		out.Curves = append(out.Curves, Curve{Says: fmt.Sprintf("a balance that repeats to %g ct", round2(v.Repeats)),
			Points: english.Only(weights(), func(carat float64) ([2]float64, bool) {
				told := bench.Told(rs, v, sg, carat)
				return [2]float64{carat, told}, !math.IsInf(told, 0)
			})})
	}
	for _, n := range near {
		same := slices.ContainsFunc(out.Levels, func(l Level) bool { return math.Abs(l.At/n.Gap-1) < 0.01 })
		if n.Gap > 0 && !same && len(out.Levels) < mostLevels {
			out.Levels = append(out.Levels, Level{n.Material.Name, n.Gap, n.FromCarat})
		}
	}
	return out
}

// weights are those at which a curve is drawn, round ones among them.
func weights() []float64 {
	var out []float64
	for _, decade := range []float64{0.01, 0.1, 1, 10} {
		for _, f := range []float64{1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8} {
			out = append(out, decade*f)
		}
	}
	return out
}
