package sat

import (
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/condition"
	"whystone/kb/eval"
)

// TestGrid compares what kb/sat says with going through all cases of random rule bases. The grid is complete for a
// base: for each thing that its conditions speak of, every way of reading it that any of its cuts could tell apart, as
// far as the reader of cases takes it.
func TestGrid(t *testing.T) {
	asked, pairs, states := tally{}, 0, 0
	rapid.Check(t, func(t *rapid.T) {
		b := drawBase(t, false)
		rs := loaded(t, b.files())
		g := newGrid(t, b, rs)
		if g.size > mostStates {
			t.Skip("too many states")
		}
		all := g.states()
		states += len(all)
		space, run := NewSpace(rs), eval.New(rs)
		for _, q := range b.questions(rs, space) {
			if q.kind == "overlap" || q.kind == "implies" {
				pairs++
			}
			for _, mode := range []Mode{AnyReading, Sharp} {
				is := slices.ContainsFunc(all, func(s state) bool { return (mode == AnyReading || s.sharp) && q.of(s) })
				asked.count(q.kind, mode, is)
				_, answer := space.Satisfy(q.formula, mode)
				if (answer == Yes) != is || answer == Unknown {
					t.Fatalf("%s (%s, sharp %v): answer %d, among the %d states: %v\n%s", q.kind, q.name, mode, answer,
						len(all), is, b.files()["rules.yaml"].Data)
				}
				left := 3
				space.Each(q.formula, mode, func(box *Box) bool {
					b.checkWitness(t, rs, run, box, mode, q)
					left--
					return left > 0
				})
			}
		}
	})
	t.Logf("%d pairs, %d states", pairs, states)
	if testing.Short() { // -short draws few
		return
	}
	asked.atLeast(t, 40)
	if pairs < 2000 {
		t.Errorf("only %d pairs", pairs)
	}
}

// checkWitness writes a box down, reads it as a case, and runs the rules: the question's answer must be yes.
func (b *base) checkWitness(t *rapid.T, rs *kb.Ruleset, run *eval.Run, box *Box, mode Mode, q question) {
	t.Helper()
	say := func(format string, args ...any) {
		t.Helper()
		t.Fatalf("%s (%s, sharp %v): %s\n%s", q.kind, q.name, mode, fmt.Sprintf(format, args...),
			b.files()["rules.yaml"].Data)
	}
	settings, err := box.Settings(mode)
	if err != nil {
		say("%s", err)
	}
	text := caseText(settings)
	c, out := readCase(rs, text)
	if c == nil {
		say("the case is refused:\n%s%s", text, out.Error())
	}
	on := anyDay
	if c.HasTaken {
		on = c.Taken
	}
	run.Do(c, on)
	if !q.of(b.stateOf(rs, run)) {
		say("the case does not show it:\n%s", text)
	}
}

// mostStates is how many states a grid may have.
const mostStates = 20000

// anyDay is a day for cases that don't care.
var anyDay = time.Date(2031, 7, 1, 0, 0, 0, 0, time.UTC)

// grid is all that can be said of the things that a base speaks of.
type grid struct {
	b    *base
	rs   *kb.Ruleset
	axes [][]alternative
	days []time.Time
	size int
}

// alternative is one way in which one thing may be.
type alternative struct {
	c     *casefile.Case
	sharp bool
}

func newGrid(t fataler, b *base, rs *kb.Ruleset) *grid {
	g := &grid{b: b, rs: rs, days: []time.Time{anyDay}}
	for _, r := range b.rules {
		if !r.since.IsZero() || !r.until.IsZero() {
			g.days = []time.Time{b.dates[0].AddDate(0, 0, -1)}
			for _, d := range b.dates {
				g.days = append(g.days, d.Add(-time.Second), d, d.Add(time.Second))
			}
			break
		}
	}
	g.size = len(g.days)
	for _, name := range b.about {
		g.axes = append(g.axes, g.axis(t, name))
		g.size *= len(g.axes[len(g.axes)-1])
	}
	return g
}

// axis lists the ways in which a thing may be, each once, as far as they can be read.
func (g *grid) axis(t fataler, name string) []alternative {
	out := []alternative{{c: &casefile.Case{}, sharp: true}}
	known := map[string]bool{}
	run := eval.New(g.rs)
	for _, a := range g.b.ways(name) {
		c, found := readCase(g.rs, caseOf([2]string{name, a.text}))
		if c == nil {
			if !a.maybe {
				t.Fatalf("%s: %s is refused\n%s", name, a.text, found.Error())
			}
			continue
		}
		run.Do(c, anyDay)
		key := fmt.Sprint(a.sharp, g.b.class(name, &run.State.Slots[g.rs.Scope.Symbol(name).Slot]))
		if !known[key] {
			known[key] = true
			out = append(out, alternative{c, a.sharp})
		}
	}
	return out
}

// class tells apart what the base's conditions could.
func (b *base) class(name string, s *condition.Slot) string {
	side := func(x float64) (out []int) {
		for _, cut := range b.cuts[name] {
			switch {
			case x < cut:
				out = append(out, -1)
			case x == cut:
				out = append(out, 0)
			default:
				out = append(out, 1)
			}
		}
		return out
	}
	return fmt.Sprint(s.Status == condition.Vague, s.Truth, side(s.Lo), side(s.Hi), s.Set, s.Seen, s.Unseen, s.Text)
}

// states runs every case of the grid.
func (g *grid) states() []state {
	var out []state
	run := eval.New(g.rs)
	var walk func(axis int, c casefile.Case, sharp bool)
	walk = func(axis int, c casefile.Case, sharp bool) {
		if axis == len(g.axes) {
			for _, day := range g.days {
				run.Do(&c, day)
				s := g.b.stateOf(g.rs, run)
				s.sharp = sharp
				out = append(out, s)
			}
			return
		}
		for _, a := range g.axes[axis] {
			next := c
			next.Readings = append(slices.Clip(c.Readings), a.c.Readings...)
			if a.c.Stone.Carat != nil {
				next.Stone.Carat = a.c.Stone.Carat
			}
			if a.c.Stone.Mounted != nil {
				next.Stone.Mounted = a.c.Stone.Mounted
			}
			next.Claim += a.c.Claim
			walk(axis+1, next, sharp && a.sharp)
		}
	}
	walk(0, casefile.Case{}, true)
	return out
}

// way is how a thing may be said to be.
type way struct {
	text  string
	sharp bool
	maybe bool // it may be refused: it lies beyond what can be read
}

// ways lists all ways in which a thing may be said to be, for all cuts of the base.
func (b *base) ways(name string) []way {
	out := []way{{text: `{inconclusive: "who knows"}`, sharp: true}}
	switch name {
	case "stone.mounted":
		return []way{{text: "true", sharp: true}, {text: "false", sharp: true}}
	case "claim":
		return []way{{text: "opal", sharp: true}, {text: "ruby", sharp: true}, {text: "tin", sharp: true}}
	case "stone.carat":
		out = nil
		for _, x := range b.points(name) {
			out = append(out, way{text: figure(x), sharp: true, maybe: true})
		}
	case "echo", "shade":
		out = append(out, unions(choices[name])...)
	case "marks":
		out = append(out, looks()...)
	default:
		out = append(out, b.intervals(name)...)
	}
	return out
}

// points are a number for each place that a number may have among the cuts and what can be read.
func (b *base) points(name string) []float64 {
	ends := append(append([]float64{0}, b.cuts[name]...), b.limits(name)...)
	slices.Sort(ends)
	ends = slices.Compact(append([]float64{ends[0] - 1}, append(ends, ends[len(ends)-1]+1)...))
	var out []float64
	for i, x := range ends {
		if out = append(out, x); i+1 < len(ends) {
			out = append(out, (x+ends[i+1])/2)
		}
	}
	return out
}

// limits are the ends of what can occur, and of what each test and instrument can read.
func (b *base) limits(name string) []float64 {
	var out []float64
	for _, m := range b.quantities {
		if m.name == name {
			for _, l := range append(m.ranges(), m.span) {
				out = append(out, l[:]...)
			}
		}
	}
	return out
}

// intervals are the readings of a quantity by every test and instrument: values (as good as exact), and bounds. A bound
// may lie one step beyond a limit, and elsewhere no cut tells such a step.
func (b *base) intervals(name string) []way {
	var out []way
	points := b.points(name)
	lows, highs := slices.Clone(points), slices.Clone(points)
	for _, x := range b.limits(name) {
		lows, highs = append(lows, math.Nextafter(x, math.Inf(1))), append(highs, math.Nextafter(x, math.Inf(-1)))
	}
	for _, by := range b.by(name) {
		for _, x := range points {
			out = append(out, way{text: fmt.Sprintf("{value: %s, uncertainty: 1e-300%s}", figure(x), by), sharp: x != 0,
				maybe: true})
			for _, t := range []string{"above", "below"} {
				out = append(out, way{text: fmt.Sprintf("{%s: %s%s}", t, figure(x), by), maybe: true})
			}
		}
		for _, x := range lows {
			for _, y := range highs {
				if x < y {
					out = append(out, way{text: fmt.Sprintf("{between: [%s, %s]%s}", figure(x), figure(y), by),
						maybe: true})
				}
			}
		}
	}
	return out
}

// by is how a reading names its test or instrument.
func (b *base) by(name string) []string {
	out := []string{""}
	for _, m := range b.quantities {
		if m.name == name && m.other != nil {
			out = append(out, ", test: flash")
		}
		if m.name == name {
			for i := range m.tools {
				out = append(out, fmt.Sprintf(", instrument: lamp-%d", i+1))
			}
		}
	}
	return out
}

// unions are the choices, those read unlike in several places too; those that cover others are among them.
func unions(words []string) []way {
	var out []way
	for set := 1; set < 1<<len(words); set++ {
		text, n := "", 0
		for i, w := range words {
			if set>>i&1 == 1 {
				text += fmt.Sprintf("{choice: %s, where: place %d}, ", w, i)
				n++
			}
		}
		out = append(out, way{text: "[" + text[:len(text)-2] + "]", sharp: n == 1})
	}
	return out
}

// looks are the ways of looking for features: each seen, looked for in vain, or left open. What is left open though
// something was looked at is what two places tell unlike.
func looks() []way {
	var out []way
	for code := range int(math.Pow(3, float64(len(marks)))) {
		seen, vain, open := "", "", 0
		for i, rest := 0, code; i < len(marks); i, rest = i+1, rest/3 {
			switch rest % 3 {
			case 0:
				seen += marks[i] + ", "
			case 1:
				vain += marks[i] + ", "
			default:
				open++
			}
		}
		text := "{features: [" + seen + "], looked_for: [" + vain + "]}"
		if open == len(marks) {
			text = "[{features: [dot], where: here}, {features: [], looked_for: [dot], where: there}]"
		}
		out = append(out, way{text: text, sharp: open == 0})
	}
	return out
}
