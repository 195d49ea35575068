package replay

import (
	"cmp"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"slices"

	"whystone/engine/picture"
	"whystone/engine/stats"
	"whystone/kb"
	"whystone/kb/english"
)

//go:embed report.html.tmpl
var reportText string

var reportTemplate = template.Must(template.New("report").Funcs(template.FuncMap{
	"short": kb.ShortDigest, "shade": shade, "grid": GridOf}).Parse(reportText))

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
	// Cases are those that it is not kept for, as far as they were kept, and More how many there are besides.
	Cases []Refused `json:"cases,omitempty"`
	More  int64     `json:"more,omitempty"`
}

// First are the cases that a page shows of those, and Rest counts the others.
func (v Verdict) First() []Refused { return v.Cases[:min(shownOfList, len(v.Cases))] }

// Rest counts the cases that First leaves out.
func (v Verdict) Rest() int64 { return int64(len(v.Cases)-len(v.First())) + v.More }

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

// GridOf lays counts out, by row and column.
func GridOf(cells map[string]map[string]int64) Grid {
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

// Confusion lays out what stones were, and what was said, by the names of materials and groups.
func (p *Page) Confusion() Grid {
	named := map[string]map[string]int64{}
	for was, row := range p.Tally.Confusion {
		cells := map[string]int64{}
		for said, n := range row {
			cells[cmp.Or(p.Names[said], said)] += n
		}
		addTable(named, map[string]map[string]int64{cmp.Or(p.Names[was], was): cells})
	}
	return GridOf(named)
}

// shade is how strongly a cell is filled, in percent: by the square root, so that few cases are still seen.
func shade(n, of int64) int {
	if n == 0 || of == 0 {
		return 0
	}
	return 8 + int(52*math.Sqrt(float64(n)/float64(of)))
}

// ReliabilityChart is the curve: for the share that the likeliest material was given, how often it was true.
func (p *Page) ReliabilityChart() *picture.Picture {
	step := func(b stats.Block) picture.Step {
		return picture.Step{From: b.Low, To: b.High,
			Rate: picture.Rate{K: int64(b.Hits), N: int64(b.N), Value: b.Rate, Low: b.RateLow, End: b.RateHigh}}
	}
	r := &picture.Reliability{Title: "Reliability curve", Steps: english.Each(p.Tally.Reliability.Curve(), step)}
	return r.Draw()
}

// MonthCharts are the error rates and the open rate, month by month.
func (p *Page) MonthCharts() []*picture.Picture {
	var out []*picture.Picture
	for i, kind := range (&Answers{}).Rates() {
		m := &picture.Months{Title: upper(kind.Says) + " by month", Of: kind.Says}
		for _, name := range Sorted(p.Tally.Months) {
			r := p.Tally.Months[name].Rates()[i]
			m.Rates = append(m.Rates, picture.Rate{Says: name, K: r.K, N: r.N,
				Value: float64(r.K) / math.Max(1, float64(r.N)), Low: r.Low, End: r.High})
		}
		out = append(out, m.Draw())
	}
	return out
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
	return slices.DeleteFunc(Sorted(p.Tally.Rules), func(id string) bool { return p.Tally.Rules[id].Holds != 0 })
}

// Lists are the shorter lists of the page: cases that go from right to wrong and so on.
func (p *Page) Lists() []NamedList {
	var out []NamedList
	for _, name := range []string{PinnedChanged, NewlyAccepted, RightToWrong, WrongToRight, Moved, NotByNew,
		FalselyAccepted, FalselyRefused, NamedWrongly} {
		if l := p.Tally.Lists[name]; l != nil && l.Count > 0 {
			out = append(out, NamedList{Name: upper(name), Count: l.Count,
				Sample: l.Sample[:min(shownOfList, len(l.Sample))]})
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
