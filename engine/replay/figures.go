package replay

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"whystone/engine/stats"
	"whystone/kb"
	"whystone/kb/english"
)

// Rate is a part of a number of cases, with its 95 % Wilson interval.
type Rate struct {
	Says string  `json:"rate"`
	Of   string  `json:"of"` // what it is a part of
	K    int64   `json:"k"`
	N    int64   `json:"n"`
	Low  float64 `json:"low"`
	High float64 `json:"high"`
	all  string  // what it is a part of, in few words, where it is said that the truth is known
}

// Percent is the rate in words: "2 of 180, 1.1 % (0.3 to 4.0 %)".
func (r Rate) Percent() string {
	if r.N == 0 {
		return "none to judge by"
	}
	return fmt.Sprintf("%d of %d, %.1f %% (%.1f to %.1f %%)", r.K, r.N, 100*float64(r.K)/float64(r.N), 100*r.Low,
		100*r.High)
}

// count is how many there are, in a table; of nothing to judge by none were looked for.
func (r Rate) count() string {
	if r.N == 0 {
		return "-"
	}
	return strconv.FormatInt(r.K, 10)
}

// percentOf is the rate in words, and what it is a part of.
func (r Rate) percentOf() string {
	if r.N == 0 {
		return r.Percent()
	}
	return r.Percent() + ", of " + r.all
}

func rate(says, all, of string, k, n int64) Rate {
	low, high := stats.Wilson(int(k), int(n), stats.Z95)
	return Rate{Says: says, Of: of, K: k, N: n, Low: low, High: high, all: all}
}

// Rates are the error rates and the open rate of some cases.
func (a *Answers) Rates() []Rate {
	return []Rate{
		rate("false acceptances", "imitations", "imitations whose truth is known", a.FalseAccepted, a.Imitations),
		rate("false refusals", "true claims", "claims true of the stone or of its material", a.FalseRefused,
			a.TrueClaims),
		rate("wrong names", "stones named", "stones named whose truth is known", a.NamedWrongly, a.Named),
		rate("open claims", "all claims", "claims", a.Open, a.Claimed),
	}
}

// Breakdown is the rates of the cases that share something: a desk, a month, a claim, an instrument.
type Breakdown struct {
	By   string   `json:"by"`
	Rows []Rating `json:"rows"`
}

// Rating is the rates of some cases.
type Rating struct {
	Name  string `json:"name"`
	Cases int64  `json:"cases"`
	Rates []Rate `json:"rates"`
}

// Breakdowns are the rates by desk, month, claim and instrument, where there are any.
func (t *Tally) Breakdowns() []Breakdown {
	out := []Breakdown{}
	for _, g := range []struct {
		by string
		of map[string]*Answers
	}{{"desk", t.Desks}, {"month", t.Months}, {"claim", t.Claims}, {"instrument", t.Tools}} {
		rows := english.Each(Sorted(g.of), func(name string) Rating {
			return Rating{Name: name, Cases: g.of[name].Cases, Rates: g.of[name].Rates()}
		})
		if len(rows) > 0 {
			out = append(out, Breakdown{By: g.by, Rows: rows})
		}
	}
	return out
}

// TooFew is how many discordant cases McNemar's exact test needs before it can reach 0.05 at all: with 5 that are all
// of one kind it gives 0.0625.
const TooFew = 6

// Comparison is what two rulesets differ by, in words.
func (p *Pair) Comparison() string {
	n := p.RightToWrong + p.WrongToRight
	if n == 0 {
		return "no case goes from right to wrong, or from wrong to right"
	}
	_, mid := stats.McNemar(int(p.RightToWrong), int(p.WrongToRight))
	says := fmt.Sprintf("%d wrong to right, %d right to wrong: McNemar's mid-p %.4f", p.WrongToRight, p.RightToWrong,
		mid)
	if n < TooFew {
		return says + fmt.Sprintf("; too few to tell (fewer than %d discordant cases)", TooFew)
	}
	return says
}

// Counted is a name with a count.
type Counted struct {
	Name string
	N    int64
}

// Largest lists the largest counts, of equal ones the first by name.
func Largest(m map[string]int64, most int) []Counted {
	var out []Counted
	for k, n := range m {
		out = append(out, Counted{k, n})
	}
	slices.SortFunc(out, func(a, b Counted) int { return cmp.Or(cmp.Compare(b.N, a.N), cmp.Compare(a.Name, b.Name)) })
	return out[:min(most, len(out))]
}

// lines writes lines of text. Nothing in what they tell commands a terminal, or passes for a line of its own.
func lines(to *strings.Builder) func(format string, args ...any) {
	return func(format string, args ...any) {
		for i, a := range args {
			if text, ok := a.(string); ok {
				args[i] = strings.Map(visible, text)
			}
		}
		fmt.Fprintf(to, format+"\n", args...)
	}
}

func visible(r rune) rune {
	if unicode.IsControl(r) || unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp) {
		return unicode.ReplacementChar
	}
	return r
}

// Summary is a replay in plain words, for a terminal of 80 columns, and what became of the gate.
func (p *Page) Summary() string {
	var b strings.Builder
	b.WriteString(p.Part.Summary())
	line := lines(&b)
	told := map[int64]bool{}
	for i, v := range p.Gate {
		if i == 0 {
			line("")
		}
		line("gate: %s: %s (%s)", v.Text, map[bool]string{true: "kept", false: "not kept"}[v.OK], v.Says)
		p.refusals(&v, told, line)
	}
	return b.String()
}

// Summary is a replay in plain words.
func (p *Part) Summary() string {
	var b strings.Builder
	line := lines(&b)
	t := p.Tally
	if p.Partial {
		line("Partial: the replay was interrupted, and this is what was counted until then.\n")
	}
	line("%d records, %d judged by ruleset %s", t.Records, t.Judged, kb.ShortDigest(p.Ruleset))
	if p.Against != "" {
		line("against ruleset %s%s", kb.ShortDigest(p.Against),
			map[bool]string{true: ", the same with these drafts active:"}[p.Drafts != nil])
		for _, id := range p.Drafts {
			line("  %s", id)
		}
	}
	if l := t.Lists[NotReplayable]; l != nil {
		line("not replayable: %d", l.Count)
		for _, e := range l.Sample[:min(3, len(l.Sample))] {
			line("  %s%s: %s", e.Place, map[bool]string{true: ", case " + clip(e.Case, 60)}[e.Case != ""],
				clip(e.Says, 200))
		}
		andMore(line, l.Count-3)
	}
	if t.Undated > 0 {
		line("without a date, and judged as of %s: %d", p.AsOf.Format(time.DateOnly), t.Undated)
	}
	for _, k := range Sorted(t.OtherMethod) {
		line("recorded by %s, judged anew and compared with nothing: %d", k, t.OtherMethod[k])
	}
	for _, k := range Sorted(t.Faults) {
		line("%s could not be evaluated: %d", k, t.Faults[k])
	}
	line("\nVerdicts%s", map[bool]string{true: " by the old ruleset"}[t.Pair != nil])
	for _, k := range Sorted(t.Verdicts) {
		line("  %-16s %8d", k, t.Verdicts[k])
	}
	p.rates(line)
	if len(t.Recorded) > 0 {
		line("\nAs recorded, and as judged now (%s)", t.Compared())
		table(line, t.Recorded)
	}
	p.pair(line)
	if brier, log := t.Scores.Means(); !math.IsNaN(brier) {
		line("\nCalibration of the likeliest material: Brier score %.4f, log score %.4f", brier, log)
	}
	if t.Pair != nil {
		if brier, log := t.Pair.Scores.Means(); !math.IsNaN(brier) {
			line("By the new ruleset: Brier score %.4f, log score %.4f", brier, log)
		}
	}
	return b.String()
}

// Compared says how many cases are compared with what was recorded, and how many say nothing to compare with. Those
// recorded by another method are told by themselves.
func (t *Tally) Compared() string {
	compared := int64(0)
	for _, row := range t.Recorded {
		compared += sum(row)
	}
	says := english.Count(compared, "case", "cases")
	if without := t.Judged - compared - sum(t.OtherMethod); without > 0 {
		says += "; " + english.Thousands(float64(without)) + " more with no recorded verdict"
	}
	return says
}

func sum(counts map[string]int64) (all int64) {
	for _, n := range counts {
		all += n
	}
	return all
}

func (p *Part) rates(line func(string, ...any)) {
	t := p.Tally
	line("\nAgainst what was true (%s whose truth is known)", english.Count(t.All.Known, "case", "cases"))
	ratesOf := func(a *Answers) {
		for _, r := range a.Rates() {
			line("  %-18s %s", r.Says, r.percentOf())
		}
	}
	ratesOf(&t.All)
	if t.Pair != nil {
		line("\nThe same by the new ruleset")
		ratesOf(&t.Pair.New)
	}
	if len(t.Behind) > 0 {
		line("\nBehind the errors")
		for _, c := range Largest(t.Behind, 8) {
			line("  %-60s %6d", clip(c.Name, 60), c.N)
		}
	}
	for _, by := range t.Breakdowns() {
		if by.By == "month" || len(by.Rows) < 2 {
			continue
		}
		line("\nBy %s: cases, false acceptances, false refusals, open", by.By)
		// the largest; of equal ones the first by name, as they come
		slices.SortStableFunc(by.Rows, func(a, b Rating) int { return cmp.Compare(b.Cases, a.Cases) })
		for _, r := range by.Rows[:min(12, len(by.Rows))] {
			line("  %-36s %8d %6s %6s %8s", clip(r.Name, 36), r.Cases, r.Rates[0].count(), r.Rates[1].count(),
				r.Rates[3].count())
		}
		if more := len(by.Rows) - 12; more > 0 {
			line("  and %d more: --json and --html have all", more)
		}
	}
}

func (p *Part) pair(line func(string, ...any)) {
	pr := p.Tally.Pair
	if pr == nil {
		return
	}
	line("\nVerdicts, from the old ruleset (down) to the new (across)")
	table(line, pr.Verdicts)
	line("\nAnswers to claims")
	table(line, pr.Answers)
	if n := p.Tally.listed(NotByNew); n > 0 {
		line("\nnot replayable by the new ruleset: %d", n)
	}
	line("\n%d changed; %d more moved in share.", pr.Changed, pr.Moved)
	line("%s.", upper(pr.Comparison()))
	if l := p.Tally.Lists[Changed]; l != nil {
		for _, e := range l.Sample[:min(10, len(l.Sample))] {
			changed(line, e.Case, e.Says)
		}
		andMore(line, l.Count-10)
	}
	p.pins(line)
}

// pins tells of the pinned cases which are not as they were, whether or not a gate asks for it: the first of those that
// changed, and all that no archive has, as no list has those.
func (p *Part) pins(line func(string, ...any)) {
	t := p.Tally
	if len(t.Pinned) == 0 {
		return
	}
	_, says := pinsKept(t, 0)
	line("\n%s.", says)
	if l := t.Lists[PinnedChanged]; l != nil {
		for _, e := range l.Sample[:min(mostRefused, len(l.Sample))] {
			line("  %s  %s", e.Case, clip(e.Says, 200))
		}
		andMore(line, l.Count-mostRefused)
	}
	for _, id := range Sorted(t.Pinned) {
		if pin := t.Pinned[id]; pin.Seen == 0 {
			line("  %s  not found; pinned: %s", clip(id, 200), clip(pin.Why, 200))
		}
	}
}

// andMore tells how many cases of a list are not shown.
func andMore(line func(string, ...any), more int64) {
	if more > 0 {
		line("  and %s more: --lists writes all of them", english.Thousands(float64(more)))
	}
}

// changed writes what became of a case: on one line, or, where that is long, the old verdict above the new.
func changed(line func(string, ...any), id, says string) {
	const most = 110
	was, is, _ := strings.Cut(says, " -> ")
	if len([]rune(says)) <= most || is == "" {
		line("  %s  %s", id, clip(says, most))
		return
	}
	line("  %s  %s", id, clip(was, most))
	line("  %s  -> %s", strings.Repeat(" ", len([]rune(id))), clip(is, most))
}

func upper(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

// table writes a square of counts.
func table(line func(string, ...any), cells map[string]map[string]int64) {
	g := GridOf(cells)
	head := fmt.Sprintf("  %-14s", "")
	for _, c := range g.Columns {
		head += fmt.Sprintf(" %14s", c)
	}
	line("%s", head)
	for _, r := range g.Rows {
		row := fmt.Sprintf("  %-14s", r.Name)
		for _, n := range r.Cells {
			row += fmt.Sprintf(" %14d", n)
		}
		line("%s", row)
	}
}

// clip shortens a long text, at a blank if there is one not far from its end.
func clip(s string, most int) string {
	if len(s) <= most {
		return s
	}
	r := []rune(s)
	if len(r) <= most {
		return s
	}
	cut := r[:most-3]
	if word := strings.LastIndexByte(string(r[:most-2]), ' '); word > len(string(cut))/2 {
		return string(cut)[:word] + "..."
	}
	return string(cut) + "..."
}

// Count is how many cases a list has.
func (p *Part) Count(list string) int64 { return p.Tally.listed(list) }
