package picture

import (
	"fmt"
	"math"
	"strconv"
)

// Rate is a part of a number of cases, with the interval within which it is known.
type Rate struct {
	Says            string // a month, say
	K, N            int64
	Value, Low, End float64 // from 0 to 1; Low and End bound the interval
}

func (r Rate) percent() string {
	if r.N == 0 {
		return "none"
	}
	return fmt.Sprintf("%.1f (%.1f to %.1f)", 100*r.Value, 100*r.Low, 100*r.End)
}

// Step is a stretch of shares, and how often what was given such a share came true.
type Step struct {
	From, To float64
	Rate
}

// Reliability is how far shares come true.
type Reliability struct {
	Title string
	Steps []Step // by rising share
}

// Draw draws the steps with their intervals; shares that come true as often as they say lie on the broken line.
func (r *Reliability) Draw() *Picture {
	x, y := axis{from: 0, to: 1, at: 62, end: 482}, axis{from: 0, to: 1, at: 412, end: 10}
	s := &scene{Width: 500, Height: 460, Title: r.Title}
	table := Table{Head: []string{"share given", "cases", "true", "percent true (95 percent interval)"}}
	s.line("ideal", look{Stroke: "1", Opacity: "0.6", Dash: "5 4"}, x.of(0), y.of(0), x.of(1), y.of(1))
	var curve []point
	for _, t := range r.Steps {
		says := fmt.Sprintf("%.3f to %.3f", t.From, t.To)
		right := max(x.of(t.To), x.of(t.From)+1)
		s.rect("band", look{Fill: "0.16"}, x.of(t.From), y.of(t.Low), right, y.of(t.End),
			says+": "+t.percent()+" percent true")
		curve = append(curve, point{x.of(t.From), y.of(t.Value)}, point{right, y.of(t.Value)})
		table.Rows = append(table.Rows, []string{says, strconv.FormatInt(t.N, 10), strconv.FormatInt(t.K, 10),
			t.percent()})
	}
	s.path("curve", look{Stroke: "2.2"}, curve, false, "")
	s.axes(x, y, "share given to the likeliest material", "part that was true")
	return s.picture(table, "Broken line: shares that come true just as often. Above it the shares are too careful, "+
		"below it too sure.")
}

// Months is a rate over time, a point a month.
type Months struct {
	Title, Of string // what the rate is of: "claims that stayed open"
	Rates     []Rate
}

// Draw draws a point with its interval for each month; one without cases is left out.
func (m *Months) Draw() *Picture {
	top := 0.0
	for _, r := range m.Rates {
		if r.N > 0 {
			top = max(top, r.End)
		}
	}
	const step = 30.0
	x := axis{from: 0, to: 1, at: 62, end: 62 + step*float64(max(len(m.Rates), 1))}
	y := axis{from: 0, to: max(5, math.Ceil(20*top)*5), at: 262, end: 10}
	s := &scene{Width: x.end + 18, Height: 340, Title: m.Title}
	s.rising(x, y, 6)
	s.upright("axis", look{}, x.at-44, (y.at+y.end)/2, m.Of+", percent")
	table := Table{Head: []string{"month", "cases", m.Of, "percent (95 percent interval)"}}
	for i, r := range m.Rates {
		at := x.at + step*(float64(i)+0.5)
		table.Rows = append(table.Rows, []string{r.Says, strconv.FormatInt(r.N, 10), strconv.FormatInt(r.K, 10),
			r.percent()})
		s.upright("tick", look{Opacity: "0.75", Size: "11"}, at+4, y.at+34, r.Says)
		if r.N == 0 {
			continue
		}
		s.line("whisker", look{Stroke: "1.4"}, at, y.of(100*r.Low), at, y.of(100*r.End))
		s.rect("dot", look{Fill: "1"}, at-3.5, y.of(100*r.Value)-3.5, at+3.5, y.of(100*r.Value)+3.5,
			r.Says+": "+r.percent()+" percent")
	}
	return s.picture(table, "The line through each point is the interval in which the rate lies with 95 percent "+
		"confidence (Wilson).")
}
