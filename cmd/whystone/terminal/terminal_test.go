package terminal

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode"

	"pgregory.net/rapid"

	"whystone/engine"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/load"
	"whystone/kb/syntax"
)

// desk loads the tests' small ruleset.
func desk(t testing.TB) *kb.Ruleset {
	t.Helper()
	rs, found := load.Load(context.Background(), []load.Layer{{Name: "desk",
		FS: os.DirFS(filepath.Join("..", "testdata", "desk"))}})
	if rs == nil {
		t.Fatal(found)
	}
	return rs
}

// cases reach each verdict, and between them everything that is told of a case.
var cases = map[string]string{
	"identified": "{case: A, claim: diamond, stake: 25000, readings: {thermal_probe: below diamond range, ri: " +
		"{above: 1.81}, specific_gravity: 5.8}}",
	"group": "{case: A, claim: diamond, readings: {thermal_probe: diamond range, facet_doubling: none, ri: " +
		"{above: 1.81}, specific_gravity: 3.52}}",
	"narrowed": "{case: A, claim: diamond, stone: {mounted: true, setting: claws}, readings: {thermal_probe: " +
		"diamond range}}",
	"contradictory": "{case: A, claim: rock crystal, readings: {ri: [1.544, 1.553], specific_gravity: 3.52}}",
	"inconclusive": "{case: A, claim: a word that nobody here has heard of, readings: {sinks_in_water: sinks, " +
		"thermal_probe: unsteady}}",
	"aside": "{case: A, stone: {warm: true}, readings: {thermal_probe: diamond range, facet_doubling: " +
		"strong, inclusions: [gas bubbles]}}",
	"nothing": "{case: A, readings: {}}",
}

func judged(t testing.TB, rs *kb.Ruleset, text string) Told {
	t.Helper()
	var found diag.List
	docs := syntax.ParseYAML(diag.NewSource("case", []byte(text)), &found)
	c := eval.CaseReader(rs).Read(docs[0], &found)
	if c == nil {
		t.Fatal(found)
	}
	m := engine.Moment{On: time.Date(2031, 4, 12, 12, 0, 0, 0, time.UTC), DatedBy: "clock"}
	e := engine.Prepare(rs)
	return Told{Ruleset: rs, Case: c, Engine: e, Explained: e.NewJudge().Explain(c, m)}
}

// everything writes all that the package can write, and hands each piece over.
func everything(t *testing.T, width int, colour bool, see func(what, text string)) {
	rs := desk(t)
	write := func(what string, do func(p *Printer)) {
		var b bytes.Buffer
		p := New(&b, width, colour)
		do(p)
		if err := p.Flush(); err != nil {
			t.Fatal(err)
		}
		see(what, b.String())
	}
	for name, text := range cases {
		told := judged(t, rs, text)
		write("verdict "+name, func(p *Printer) { p.Verdict(told); p.Closing(rs) })
		write("why "+name, func(p *Printer) { p.Why(told) })
		write("why all "+name, func(p *Printer) { p.WhyAll(told) })
		write("change to "+name, func(p *Printer) { p.Change(judged(t, rs, cases["nothing"]), told) })
	}
	write("materials", func(p *Printer) { p.Materials(rs) })
	write("procedures", func(p *Printer) { p.Procedures(rs) })
	write("rules", func(p *Printer) { p.Rules(rs) })
	for _, m := range rs.Nodes {
		write("material "+m.ID, func(p *Printer) { p.Material(rs, m) })
		write("beside "+m.ID, func(p *Printer) { p.Beside(rs, m, rs.Leaves[0]) })
	}
	for _, x := range rs.Tests {
		write("procedure "+x.ID, func(p *Printer) { p.Procedure(rs, x) })
	}
	for _, r := range rs.Rules {
		write("rule "+r.ID, func(p *Printer) { p.Rule(rs, r) })
	}
}

// TestWidth: nothing sticks out of the page. At these widths every word of the small ruleset fits.
func TestWidth(t *testing.T) {
	for _, width := range []int{60, 80, 120} {
		everything(t, width, false, func(what, text string) {
			for line := range strings.Lines(text) {
				line = strings.TrimSuffix(line, "\n")
				if n := cellsOf(line); n > width {
					t.Errorf("%s at %d: %d cells: %q", what, width, n, line)
				}
				if strings.TrimRight(line, " ") != line {
					t.Errorf("%s at %d: blanks at the end: %q", what, width, line)
				}
			}
		})
	}
}

// TestColour: without colour there is no escape byte; with it the text is the same, and neither red nor green.
func TestColour(t *testing.T) {
	bare := map[string]string{}
	everything(t, 80, false, func(what, text string) {
		bare[what] = text
		if strings.ContainsRune(text, '\x1b') {
			t.Errorf("%s has an escape byte without colour", what)
		}
	})
	sgr := regexp.MustCompile(`\x1b\[([0-9;]*)m`)
	everything(t, 80, true, func(what, text string) {
		for _, m := range sgr.FindAllStringSubmatch(text, -1) {
			switch m[1] {
			case "0", "1", "2", "1;36":
			default:
				t.Errorf("%s uses the style %q", what, m[1])
			}
		}
		if got := sgr.ReplaceAllString(text, ""); got != bare[what] {
			t.Errorf("%s is another text in colour:\n%s", what, got)
		}
	})
}

// TestNoShareIsTold: what a customer may see has no figure that could pass for a probability, and no word of one.
func TestNoShareIsTold(t *testing.T) {
	banned := regexp.MustCompile(`(?i)%|probab|likelihood of|chance|certain|share of [0-9]|\b0\.9|\bgenuine\b|\breal\b|\bfake\b`)
	everything(t, 80, false, func(what, text string) {
		if strings.HasPrefix(what, "verdict") || what[:3] == "why" && !strings.HasPrefix(what, "why all") ||
			strings.HasPrefix(what, "change") {
			if m := banned.FindString(text); m != "" {
				t.Errorf("%s says %q", what, m)
			}
		}
	})
}

// TestChecksWithoutFigures: the checks that compare shares have no figure in their sentence, and both have figures of
// their own, which the whole chain tells.
func TestChecksWithoutFigures(t *testing.T) {
	rs := desk(t)
	seen := map[string]int{}
	for _, text := range cases {
		told := judged(t, rs, text)
		for _, s := range told.Chain {
			if s.Condition != "share" && s.Condition != "doubt" || s.Kind != "check" {
				continue
			}
			seen[s.Condition]++
			if strings.ContainsFunc(s.Says, unicode.IsDigit) || s.Value == nil || s.Needed == nil {
				t.Errorf("%s: %q, of %v and %v", s.Condition, s.Says, s.Value, s.Needed)
			}
			var b bytes.Buffer
			p := New(&b, 200, false)
			p.WhyAll(told)
			if err := p.Flush(); err != nil {
				t.Fatal(err)
			}
			if want := fmt.Sprintf("a share of %.4g, against %.4g", *s.Value, *s.Needed); !strings.Contains(b.String(),
				want) {
				t.Errorf("the whole chain does not tell %q", want)
			}
		}
	}
	if seen["share"] == 0 || seen["doubt"] == 0 {
		t.Errorf("met: %v", seen)
	}
}

// TestWhyAllTellsEachStepOnce: every step of the chain stands there with its sentence, once.
func TestWhyAllTellsEachStepOnce(t *testing.T) {
	rs := desk(t)
	head := regexp.MustCompile(`(?m)^[ │├└]*\[(\d+)\](?: to \[(\d+)\])? [a-z -]+`)
	for name, text := range cases {
		told := judged(t, rs, text)
		var b bytes.Buffer
		p := New(&b, 400, false)
		p.WhyAll(told)
		if err := p.Flush(); err != nil {
			t.Fatal(err)
		}
		seen := map[int]int{}
		for _, m := range head.FindAllStringSubmatch(b.String(), -1) {
			from, err := strconv.Atoi(m[1])
			if err != nil {
				t.Fatal(err)
			}
			to := from
			if m[2] != "" {
				if to, err = strconv.Atoi(m[2]); err != nil {
					t.Fatal(err)
				}
			}
			for n := from; n <= to; n++ {
				seen[n]++
			}
		}
		for _, s := range told.Chain {
			if seen[s.Step] != 1 {
				t.Errorf("%s: step %d (%s) is told %d times", name, s.Step, s.Kind, seen[s.Step])
			}
		}
	}
}

// TestWrapLosesNothing: any text comes out word by word, within the width unless a word alone is longer.
func TestWrapLosesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := clean(rapid.String().Draw(t, "text"))
		cells := rapid.IntRange(4, 60).Draw(t, "cells")
		indent := rapid.IntRange(0, 3).Draw(t, "indent")
		lines := wrapHanging(text, cells, indent)
		if got, want := strings.Fields(strings.Join(lines, " ")), strings.Fields(text); strings.Join(got,
			" ") != strings.Join(want, " ") {
			t.Fatalf("words were lost: %q of %q", got, want)
		}
		for _, l := range lines {
			if cellsOf(l) > cells && len(strings.Fields(l)) > 1 {
				t.Fatalf("%q takes %d of %d cells", l, cellsOf(l), cells)
			}
		}
	})
}

// TestClean: nothing that commands a terminal is left, whatever comes in.
func TestClean(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		for _, r := range clean(rapid.String().Draw(t, "text") + "\x1b[2J\u202e\u2028\r\a") {
			if unicode.IsControl(r) && r != '\n' || unicode.Is(unicode.Cf, r) {
				t.Fatalf("%U is left", r)
			}
		}
	})
}

// TestCells: widths as Unicode Standard Annex 11 gives them, for a letter, a combining mark and a wide letter.
func TestCells(t *testing.T) {
	for text, want := range map[string]int{"": 0, "abc": 3, "±": 1, "e\u0301": 1, "金": 2, "│": 1} {
		if got := cellsOf(text); got != want {
			t.Errorf("%q: %d cells, want %d", text, got, want)
		}
	}
}

func TestWords(t *testing.T) {
	for x, want := range map[float64]string{1.46: "about 1.5 times", 9.99: "about 10 times",
		1250.8: "about 1,300 times", 89755: "about 90,000 times", 3e12: "over 1,000,000,000 times"} {
		if got := phrase.Times(x); got != want {
			t.Errorf("%g: %q, want %q", x, got, want)
		}
	}
}

// TestScaleIsNamed: the bands of the shipped policy are called by their name, those of a house that changed them are
// not.
func TestScaleIsNamed(t *testing.T) {
	p := *desk(t).Policy
	if got := scaleOf(&p); got != phrase.InWordsOfScale {
		t.Errorf("the usual bands are called %q", got)
	}
	p.Scale = append([]kb.Band{}, p.Scale...)
	p.Scale[2].From = 90
	if got := scaleOf(&p); got != phrase.InWordsOfOwn {
		t.Errorf("bands of the house's own are called %q", got)
	}
}

// TestBeside: facts of the trade (common practice): weight parts zirconia and diamond, a thermal probe does not part
// diamond and moissanite, facet doubling does. What is on the left on one page is on the right on the other.
func TestBeside(t *testing.T) {
	rs := desk(t)
	how := func(a, b, observable string) string {
		for _, l := range Compare(rs, rs.Node(a), rs.Node(b)).Lines {
			if l.Observable == observable {
				return l.Apart
			}
		}
		return alike
	}
	for _, c := range []struct {
		a, b, observable string
		want             string
	}{
		{"cubic-zirconia", "diamond", "specific_gravity", wholly},
		{"cubic-zirconia", "diamond", "thermal_probe", wholly},
		{"synthetic-moissanite", "diamond", "thermal_probe", alike},
		{"synthetic-moissanite", "diamond", "facet_doubling", wholly},
		{"natural-diamond", "cvd-diamond", "specific_gravity", alike},
		{"natural-diamond", "cvd-diamond", "ri", alike},
		{"ordinary-glass", "rock-crystal", "ri", alike}, // the ranges overlap
		{"ordinary-glass", "rock-crystal", "birefringence", wholly},
	} {
		if got := how(c.a, c.b, c.observable); got != c.want {
			t.Errorf("%s beside %s by %s: %v, want %v", c.a, c.b, c.observable, got, c.want)
		}
	}
	for _, a := range rs.Nodes {
		for _, b := range rs.Nodes {
			x, y := Compare(rs, a, b).Lines, Compare(rs, b, a).Lines
			for i := range x {
				if x[i].Says != [2]string{y[i].Says[1], y[i].Says[0]} || x[i].Apart != y[i].Apart {
					t.Errorf("%s beside %s is not %s beside %s by %s", a.ID, b.ID, b.ID, a.ID, x[i].Observable)
				}
			}
		}
	}
}

// TestHeaviest: few are named whatever they weigh; of many only what has weight.
func TestHeaviest(t *testing.T) {
	names := []string{"a", "b", "c", "d", "e", "f", "g", "h"}
	for _, x := range []struct {
		names []string
		heavy int
		says  string
	}{
		{names[:2], 0, "a, b"}, {names[:6], 1, "a, b, c, d, e, f"}, {names[:7], 0, "7 materials of little weight"},
		{names, 1, "a and 7 of little weight"}, {names, 5, "a, b, c, d, e and 3 of little weight"},
		{names, 6, "a, b, c, d, e and 3 more"}, {names, 8, "a, b, c, d, e and 3 more"},
	} {
		if says := heaviest(x.names, x.heavy); says != x.says {
			t.Errorf("of %d names, %d of weight: %q, wanted %q", len(x.names), x.heavy, says, x.says)
		}
	}
}
