package picture

import (
	_ "embed"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

//go:embed scene.svg.tmpl
var sceneText string

var sceneTemplate = template.Must(template.New("scene").Parse(sceneText))

// scene is what is drawn, in the order of drawing. Lengths are in units of the drawing, about a pixel each.
type scene struct {
	Width, Height float64
	Title, Desc   string
	Marks         []mark
}

// mark is one thing drawn.
type mark struct {
	Shape, Class string
	X, Y, W, H   string // of a line X, Y, and W, H its other end
	Text         string // of a path what SVG calls its data
	Anchor, Turn string
	Tip          string
	Look         look
}

// look is how a mark stands out, without colour: how much of the ground it covers, how thick its line is, how broken.
type look struct {
	Fill, Stroke, Opacity, Dash, Size, Weight string // "" is none
}

// num writes a length to a tenth of a unit.
func num(v float64) string {
	s := strconv.FormatFloat(v, 'f', 1, 64)
	if s = strings.TrimSuffix(s, ".0"); s == "-0" {
		return "0"
	}
	return s
}

func (s *scene) rect(class string, l look, x1, y1, x2, y2 float64, tip string) {
	s.Marks = append(s.Marks, mark{Shape: "rect", Class: class, X: num(min(x1, x2)), Y: num(min(y1, y2)),
		W: num(math.Abs(x2 - x1)), H: num(math.Abs(y2 - y1)), Look: l, Tip: tip})
}

func (s *scene) line(class string, l look, x1, y1, x2, y2 float64) {
	s.Marks = append(s.Marks, mark{Shape: "line", Class: class, X: num(x1), Y: num(y1), W: num(x2), H: num(y2),
		Look: l})
}

// point is a place in the drawing.
type point struct{ x, y float64 }

func (s *scene) path(class string, l look, through []point, closed bool, tip string) {
	var d strings.Builder
	for i, p := range through {
		d.WriteString([]string{"L", "M"}[min(1, max(0, 1-i))] + num(p.x) + " " + num(p.y))
	}
	if closed {
		d.WriteString("Z")
	}
	s.Marks = append(s.Marks, mark{Shape: "path", Class: class, Text: d.String(), Look: l, Tip: tip})
}

func (s *scene) text(class string, l look, x, y float64, anchor, text string) {
	s.Marks = append(s.Marks, mark{Shape: "text", Class: class, X: num(x), Y: num(y), Anchor: anchor, Text: text,
		Look: l})
}

// upright writes a text that is read from below.
func (s *scene) upright(class string, l look, x, y float64, text string) {
	s.text(class, l, x, y, "middle", text)
	s.Marks[len(s.Marks)-1].Turn = "rotate(-90 " + num(x) + " " + num(y) + ")"
}

// draw writes the SVG.
func (s *scene) draw() template.HTML {
	var b strings.Builder
	if err := sceneTemplate.Execute(&b, s); err != nil {
		panic(err) // a strings.Builder takes everything, and the template is ours
	}
	return template.HTML(b.String()) //nolint:gosec // html/template has escaped it
}

// widthOf is about how wide a text is, at a size of letters.
func widthOf(text string, size float64) float64 {
	return float64(utf8.RuneCountInString(text)) * size * 0.56
}

// box is a stretch of the drawing.
type box struct{ x1, y1, x2, y2 float64 }

func (b box) meets(o box) bool { return b.x1 < o.x2 && o.x1 < b.x2 && b.y1 < o.y2 && o.y1 < b.y2 }

func (b box) within(o box) bool { return b.x1 >= o.x1 && b.x2 <= o.x2 && b.y1 >= o.y1 && b.y2 <= o.y2 }

// labels places texts so that none stands on another.
type labels struct {
	frame box
	taken []box
}

// place writes a text beside a box where there is room, nearest first; false: there is none.
func (l *labels) place(s *scene, class string, style look, size float64, text string, beside box) bool {
	w, h := widthOf(text, size), size
	middle := (beside.y1+beside.y2)/2 + size*0.35
	for _, away := range []float64{4, 14, 26, 40, 58, 80} {
		for _, at := range []struct {
			x, y   float64
			anchor string
		}{
			{beside.x2 + away, middle, "start"}, {beside.x1 - away, middle, "end"},
			{(beside.x1 + beside.x2) / 2, beside.y1 - away, "middle"},
			{(beside.x1 + beside.x2) / 2, beside.y2 + away + h*0.8, "middle"},
			{beside.x2 + away*0.7, beside.y1 - away*0.7, "start"}, {beside.x2 + away*0.7, beside.y2 + away*0.7 + h*0.8,
				"start"},
			{beside.x1 - away*0.7, beside.y1 - away*0.7, "end"}, {beside.x1 - away*0.7, beside.y2 + away*0.7 + h*0.8,
				"end"},
		} {
			left := at.x - map[string]float64{"start": 0, "middle": w / 2, "end": w}[at.anchor]
			room := box{left, at.y - h*0.8, left + w, at.y + h*0.2}
			if !room.within(l.frame) || !l.take(room) {
				continue
			}
			s.text(class, style, at.x, at.y, at.anchor, text)
			if away > 14 {
				s.line("leader", look{Stroke: "0.6", Opacity: "0.5"}, clamp(beside.x1, (room.x1+room.x2)/2, beside.x2),
					clamp(beside.y1, (room.y1+room.y2)/2, beside.y2), clamp(room.x1, (beside.x1+beside.x2)/2, room.x2),
					clamp(room.y1, (beside.y1+beside.y2)/2, room.y2))
			}
			return true
		}
	}
	return false
}

func clamp(low, v, high float64) float64 { return max(low, min(v, high)) }

// take takes a place, unless something stands there.
func (l *labels) take(b box) bool {
	if slices.ContainsFunc(l.taken, b.meets) {
		return false
	}
	l.taken = append(l.taken, b)
	return true
}
