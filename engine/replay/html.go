package replay

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"strings"

	"whystone/engine/stats"
)

//go:embed report.html.tmpl
var reportText string

var reportTemplate = template.Must(template.New("report").Funcs(template.FuncMap{
	"short": short, "percent": func(k, n int64) string { return fmt.Sprintf("%.1f %%", 100*float64(k)/math.Max(1, float64(n))) },
	"shade": shade,
}).Parse(reportText))

// Page is all that the printed report shows.
type Page struct {
	*Part
	Differences []Difference
	Gate        []Verdict
	Untold      string // why changed cases are not shown, when they can't be
}

// Verdict is what became of one of a gate's conditions.
type Verdict struct {
	Text string `json:"condition"`
	OK   bool   `json:"ok"`
	Says string `json:"says"`
}

// CheckGate checks all conditions.
func CheckGate(gate []Condition, p *Part) (all []Verdict, ok bool) {
	ok = true
	for i := range gate {
		good, says := gate[i].Check(p)
		all = append(all, Verdict{Text: gate[i].Text, OK: good, Says: says})
		ok = ok && good
	}
	return all, ok
}

// HTML writes the report as one page that needs nothing else: no network, no script; it prints, and follows the
// reader's light or dark setting.
func (p *Page) HTML(w io.Writer) error { return reportTemplate.Execute(w, p) }

// Grid is a table of counts with its row and column names.
type Grid struct {
	Columns []string
	Rows    []GridRow
	Largest int64
}

// GridRow is a row of a Grid.
type GridRow struct {
	Name  string
	Cells []int64
	Total int64
}

func grid(cells map[string]map[string]int64) Grid {
	columns := map[string]bool{}
	for _, row := range cells {
		for k := range row {
			columns[k] = true
		}
	}
	g := Grid{Columns: Sorted(columns)}
	for _, r := range Sorted(cells) {
		row := GridRow{Name: r}
		for _, c := range g.Columns {
			n := cells[r][c]
			row.Cells = append(row.Cells, n)
			row.Total += n
			g.Largest = max(g.Largest, n)
		}
		g.Rows = append(g.Rows, row)
	}
	return g
}

// Confusion is the table of truths against what was said.
func (p *Page) Confusion() Grid { return grid(p.Tally.Confusion) }

// Recorded is the table of recorded verdicts against today's.
func (p *Page) Recorded() Grid { return grid(p.Tally.Recorded) }

// Transitions is the table of verdicts of the old ruleset against the new one's.
func (p *Page) Transitions() Grid { return grid(p.Tally.Pair.Verdicts) }

// Answers is the same for answers to claims.
func (p *Page) Answers() Grid { return grid(p.Tally.Pair.Answers) }

// shade is how strongly a cell is filled, in percent: by the square root, so that few cases are still seen.
func shade(n, of int64) int {
	if n == 0 || of == 0 {
		return 0
	}
	return 8 + int(52*math.Sqrt(float64(n)/float64(of)))
}

// ReliabilityChart draws the curve: for the share that the likeliest material was given, how often it was true.
func (p *Page) ReliabilityChart() template.HTML {
	const size, left, bottom = 240.0, 40.0, 30.0
	x := func(v float64) float64 { return left + v*size }
	y := func(v float64) float64 { return 10 + (1-v)*size }
	var b strings.Builder
	fmt.Fprintf(&b, `<svg viewBox="0 0 %g %g" role="img" aria-label="Reliability curve">`, left+size+10, size+bottom+14)
	for _, t := range []float64{0, 0.25, 0.5, 0.75, 1} {
		fmt.Fprintf(&b, `<line class="grid" x1="%.1f" y1="%.1f" x2="%.1f" y2="%.1f"/><text x="%.1f" y="%.1f" text-anchor="end">%g</text>`, x(0), y(t), x(1), y(t), x(0)-5, y(t)+4, t)
		fmt.Fprintf(&b, `<text x="%.1f" y="%.1f" text-anchor="middle">%g</text>`, x(t), y(0)+15, t)
	}
	fmt.Fprintf(&b, `<line class="ideal" x1="%.1f" y1="%.1f" x2="%.1f" y2="%.1f"/>`, x(0), y(0), x(1), y(1))
	curve := p.Tally.Reliability.Curve()
	var line strings.Builder
	for _, k := range curve {
		fmt.Fprintf(&b, `<rect class="band" x="%.1f" y="%.1f" width="%.1f" height="%.1f"/>`, x(k.Low), y(k.RateHigh), math.Max(1, x(k.High)-x(k.Low)), math.Max(1, y(k.RateLow)-y(k.RateHigh)))
		fmt.Fprintf(&line, "%.1f,%.1f %.1f,%.1f ", x(k.Low), y(k.Rate), x(k.High), y(k.Rate))
	}
	fmt.Fprintf(&b, `<polyline class="curve" points="%s"/>`, strings.TrimSpace(line.String()))
	fmt.Fprintf(&b, `<text x="%.1f" y="%.1f" text-anchor="middle">share given</text></svg>`, x(0.5), y(0)+30)
	return template.HTML(b.String()) // built from numbers only
}

// MonthChart draws the part of claims that stayed open, month by month, with its interval.
func (p *Page) MonthChart() template.HTML {
	months := Sorted(p.Tally.Months)
	const step, height, left = 26.0, 150.0, 40.0
	width := left + step*float64(len(months)) + 10
	y := func(v float64) float64 { return 10 + (1-v)*height }
	var b strings.Builder
	fmt.Fprintf(&b, `<svg viewBox="0 0 %g %g" role="img" aria-label="Open claims by month">`, width, height+62)
	for _, t := range []float64{0, 0.5, 1} {
		fmt.Fprintf(&b, `<line class="grid" x1="%g" y1="%.1f" x2="%g" y2="%.1f"/><text x="%g" y="%.1f" text-anchor="end">%g %%</text>`, left, y(t), width-10, y(t), left-5, y(t)+4, 100*t)
	}
	for i, m := range months {
		a := p.Tally.Months[m]
		if a.Claimed == 0 {
			continue
		}
		low, high := stats.Wilson(int(a.Open), int(a.Claimed), stats.Z95)
		at := left + step*(float64(i)+0.5)
		v := float64(a.Open) / float64(a.Claimed)
		fmt.Fprintf(&b, `<line class="whisker" x1="%.1f" y1="%.1f" x2="%.1f" y2="%.1f"/><circle class="dot" cx="%.1f" cy="%.1f" r="3.5"><title>%s: %d of %d</title></circle>`,
			at, y(low), at, y(high), at, y(v), template.HTMLEscapeString(m), a.Open, a.Claimed)
		if i%2 == 0 {
			fmt.Fprintf(&b, `<text transform="translate(%.1f %.1f) rotate(-55)" text-anchor="end">%s</text>`, at+4, y(0)+12, template.HTMLEscapeString(m))
		}
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String()) // months are escaped, all else is numbers
}

// Comparison is what the two rulesets differ by, as a sentence.
func (p *Page) Comparison() string { return upper(p.Tally.Pair.Comparison()) }

// Calibration says the scores.
func (p *Page) Calibration() string {
	brier, log := p.Tally.Scores.Means()
	if math.IsNaN(brier) {
		return "No case whose truth is known."
	}
	says := fmt.Sprintf("Brier score %.4f, log score %.4f, over %d cases.", brier, log, p.Tally.Scores.N)
	if pair := p.Tally.Pair; pair != nil && pair.Scores.N > 0 {
		brier, log = pair.Scores.Means()
		says = "By the old ruleset: " + says + fmt.Sprintf(" By the new: %.4f and %.4f.", brier, log)
	}
	return says
}

// NotReplayable is the list of records that can't be judged.
func (p *Page) NotReplayable() *List { return p.Tally.Lists[NotReplayable] }

// Behind lists what stands behind the errors, most first.
func (p *Page) Behind() []Counted { return Largest(p.Tally.Behind, 12) }

// Idle lists the rules that held in no case.
func (p *Page) Idle() []string {
	var out []string
	for _, id := range Sorted(p.Tally.Rules) {
		if p.Tally.Rules[id].Holds == 0 {
			out = append(out, id)
		}
	}
	return out
}

// ClaimAnswers is the table of claims, true or false, against what was answered, the claims by name.
func (p *Page) ClaimAnswers() Grid { return grid(p.Tally.ClaimAnswers) }

// Breakdowns are the rates by desk, month, claim and instrument.
func (p *Page) Breakdowns() []Breakdown { return p.Tally.Breakdowns() }

// Lists are the shorter lists of the page: cases that go from right to wrong and so on.
func (p *Page) Lists() []NamedList {
	var out []NamedList
	for _, name := range []string{PinnedChanged, NewlyAccepted, RightToWrong, WrongToRight, Moved, NotByNew, FalselyAccepted, FalselyRefused, NamedWrongly} {
		if l := p.Tally.Lists[name]; l != nil && l.Count > 0 {
			out = append(out, NamedList{Name: upper(name), Count: l.Count, Sample: l.Sample[:min(shownOfList, len(l.Sample))]})
		}
	}
	return out
}

// shownOfList is how many cases of a list the page shows.
const shownOfList = 20

// NamedList is a list with its name.
type NamedList struct {
	Name   string
	Count  int64
	Sample []Entry
}
