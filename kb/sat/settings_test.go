package sat

import (
	"fmt"
	"strings"
	"testing"

	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/eval"
	kleene "whystone/kb/logic"
	"whystone/kb/syntax"
)

// TestSettings: the case that is written down for each kind of thing, holding and failing. Each is read again, and the
// rules run.
func TestSettings(t *testing.T) {
	rs := fixed(t, around)
	for _, c := range []struct{ text, holds, fails string }{
		{"glow > 2", "glow: 2.5", "glow: 1.5"},
		{"glow > 3", "glow: {above: 3}", "glow: 2"}, // nothing seen up to the limit
		{"glow < 1", "glow: {below: 1}", "glow: 2"},
		{"glow > 3 and glow < 3.5", "glow: {above: 3, below: 3.2}", "glow: 2"},
		{"near(glow, 2, 0)", "glow: {value: 2, uncertainty: 1e-17}", "glow: 1.5"},
		{"1.5 <= glow <= 1.6", "glow: {value: 1.55, uncertainty: 0.02}", "glow: {value: 1.2, uncertainty: 0.06}"},
		{"pull > 2 and pull < 7", "pull: 4", "pull: 1"},
		{`shade == "blue"`, `shade: blue`, `shade: green`},
		{`shade == "warm"`, `shade: green`, `shade: blue`},
		{`"dot" in marks`, `marks: {features: [dot]}`, `marks: {features: [], looked_for: [dot]}`},
		{`"dot" in marks and not ("ring" in marks)`, `marks: {features: [dot], looked_for: [ring]}`,
			`marks: {features: [], looked_for: [dot]}`},
		{"seen(marks)", `marks: {features: [], looked_for: [dot]}`, ""},
		{"unclear(shade)", `shade: {inconclusive: "tried, and it stayed open"}`, ""},
		{"stone.mounted", "stone.mounted: true", "stone.mounted: false"},
		{"stone.carat == 0.5", "stone.carat: 0.5", "stone.carat: 1"},
		{"stake >= 100", "stake: 150", "stake: 50"},
		{`claim in ["ruby", "opal"]`, `claim: opal`, `claim: some other claim`},
		{`claim != "some other claim"`, `claim: some other claim again`, `claim: some other claim`},
		{"rare", `taken: "2031-04-01T00:00:00Z"`, `taken: "2031-03-31T23:59:59Z"`},
		{"unclear(glow) and stone.wet and glow > 2", "none", ""}, // a reading that was set aside decides nothing
	} {
		cond, s := compiled(t, rs.Scope, c.text), NewSpace(rs)
		for i, f := range []*Formula{s.Holds(cond.Root), s.FailsAt(cond.Root)} {
			want, is := []string{c.holds, c.fails}[i], []kleene.Value{kleene.Holds, kleene.Fails}[i]
			mode := Sharp
			box, answer := s.Satisfy(f, mode)
			if answer == No {
				mode = AnyReading
				box, answer = s.Satisfy(f, mode)
			}
			if answer == No {
				if want != "none" {
					t.Errorf("%s: no case; want %s", c.text, want)
				}
				continue
			}
			if text := settingsText(t, box, mode); text != want {
				t.Errorf("%s: %s, want %s", c.text, text, want)
				continue
			}
			shown, found := readCase(rs, caseText(settings(t, box, mode)))
			if shown == nil {
				t.Errorf("%s: %s is refused: %s", c.text, want, found.Error())
				continue
			}
			run, on := eval.New(rs), anyDay
			if shown.HasTaken {
				on = shown.Taken
			}
			run.Do(shown, on)
			if v, _, _ := condition.Evaluate(cond, &run.State); v != is {
				t.Errorf("%s: %s makes it %s", c.text, want, v)
			}
		}
	}
}

// TestOddSettings: what no condition by itself asks for.
func TestOddSettings(t *testing.T) {
	rs := fixed(t, around)
	s := NewSpace(rs)
	o := rs.Vocabulary.Observable
	open := []*Formula{s.Read(o("marks"))} // something was looked at, and nothing is known of any feature
	for i := range marks {
		open = append(open, Not(s.Seen(o("marks"), i)), Not(s.Unseen(o("marks"), i)))
	}
	unclear := compiled(t, rs.Scope, "unclear(glow)")
	shade := func(mask uint64) *Formula { return s.Among(o("shade"), mask) } // blue, green, red, warm
	for _, c := range []struct {
		f    *Formula
		want string
	}{
		{And(open...), `marks: [{features: [dot], where: place 1}, {looked_for: [dot], where: place 2}]`},
		{And(s.Read(o("shade")), shade(0b110), Not(shade(0b010)), Not(shade(0b100))), `shade: warm`},
		{And(s.Read(o("shade")), shade(0b011), Not(shade(0b001)), Not(shade(0b010))),
			`shade: [{choice: blue, where: place 1}, {choice: green, where: place 2}]`},
		{And(s.Read(o("glow")), Not(s.Within(o("glow"), 0, 1.5)), s.Touches(o("glow"), 0, 1),
			Not(s.Within(o("glow"), 0, 2))), "glow: {between: [-0.5, 1.5]}"},
		{And(s.Read(o("glow")), s.Holds(unclear.Root)), "glow: 2, stone.wet: true"}, // set aside
		{And(Not(s.Read(o("glow"))), s.Holds(unclear.Root)), `glow: {inconclusive: "tried, and it stayed open"}`},
		{True, ""},
	} {
		box, answer := s.Satisfy(c.f, AnyReading)
		if answer != Yes {
			t.Errorf("no case; want %s", c.want)
			continue
		}
		if text := settingsText(t, box, AnyReading); text != c.want {
			t.Errorf("%s, want %s", text, c.want)
		}
		if c, found := readCase(rs, caseText(settings(t, box, AnyReading))); c == nil {
			t.Error(found.Error())
		}
	}
}

func compiled(t *testing.T, scope *condition.Scope, text string) *condition.Condition {
	t.Helper()
	var out diag.List
	c := condition.Compile(text, func(int, int) diag.Span { return diag.Span{} }, scope, &out)
	if c == nil {
		t.Fatalf("%s: %s", text, out.Error())
	}
	return c
}

func settings(t *testing.T, b *Box, mode Mode) []Setting {
	t.Helper()
	out, err := b.Settings(mode)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func settingsText(t *testing.T, b *Box, mode Mode) string {
	t.Helper()
	var parts []string
	for _, s := range settings(t, b, mode) {
		parts = append(parts, fmt.Sprintf("%s: %s", s.Name, syntax.WriteLine(s.Value)))
	}
	return strings.Join(parts, ", ")
}

// TestNamedSources: a value that only another test or instrument can read says which.
func TestNamedSources(t *testing.T) {
	for _, c := range []struct {
		m    measure
		text string
		want string
	}{
		{measure{tools: [][2]float64{{0.5, 2}, {1.5, 3.25}}}, "glow > 3.1", "glow: {value: 3.2, instrument: lamp-2}"},
		{measure{tools: [][2]float64{{0.5, 2}, {1.5, 3.25}}}, "glow < 0.75", "glow: {value: 0.6, instrument: lamp-1}"},
		// the house's only one need not be named
		{measure{tools: [][2]float64{{0.5, 3.25}}}, "glow > 3.1", "glow: 3.2"},
		{measure{other: &[2]float64{2, 3.5}}, "glow > 3.1", "glow: {value: 3.3, test: flash}"},
	} {
		c.m.name, c.m.span, c.m.limits = "glow", [2]float64{0, 4}, [2]float64{1, 3}
		b := &base{quantities: []*measure{&c.m}}
		rs := loaded(t, b.files())
		s := NewSpace(rs)
		box, answer := s.Satisfy(s.Holds(compiled(t, rs.Scope, c.text).Root), Sharp)
		if answer != Yes {
			t.Errorf("%s: no case", c.text)
			continue
		}
		if text := settingsText(t, box, Sharp); text != c.want {
			t.Errorf("%s: %s, want %s", c.text, text, c.want)
		}
		if c, found := readCase(rs, caseText(settings(t, box, Sharp))); c == nil {
			t.Error(found.Error())
		}
	}
}
