package sat

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"whystone/kb/eval"
	kleene "whystone/kb/logic"
	"whystone/kb/syntax"
)

// beyond are conditions outside the analysable fragment; the last two look at a quantity that a rule computes.
var beyond = []string{"glow + pull < 4", "glow / pull >= 0.5", "count(marks, # in [\"dot\", \"ring\"]) >= 1",
	`claim contains "p"`, "glow > pull", "abs(glow - 2) < 0.5", "strength < 2", "seen(strength)"}

// TestOutside: with parts of conditions that are not analysed, "no" is still right: what is said to be impossible
// happens in no case of the grid. And a case is written down only of what does not lean on such a part.
func TestOutside(t *testing.T) {
	no, unsure := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		b := drawBase(t, false)
		g := gen{t, b}
		for _, name := range []string{"glow", "pull", "marks"} {
			if !slices.Contains(b.about, name) && len(b.about) < 3 {
				b.about = append(b.about, name)
			}
		}
		for _, r := range b.rules {
			r.aside = nil // what sets a reading aside may not rest on it, as these conditions do
		}
		files := b.files()
		text := string(files["rules.yaml"].Data)
		for _, r := range b.rules {
			if r.cond == nil || g.one(3) {
				continue
			}
			other := beyond[g.n(len(beyond))]
			as := g.of("(%s) and %s", "(%s) or not (%s)", "(%s) and not (%s)")
			text = strings.Replace(text, "if: '"+r.cond.String()+"'", "if: '"+fmt.Sprintf(as, r.cond, other)+"'", 1)
		}
		text += "  - {rule: z-computes, says: s, source: s, if: seen(pull), establishes: {strength: {is: pull * 2}}}\n"
		files["rules.yaml"].Data = []byte(text)
		rs := loaded(t, files)
		grid := newGrid(t, b, rs)
		if grid.size > mostStates {
			t.Skip("too many states")
		}
		all := grid.states()
		space, run := NewSpace(rs), eval.New(rs)
		for _, q := range b.questions(rs, space) {
			for _, mode := range []Mode{AnyReading, Sharp} {
				box, answer := space.Satisfy(q.formula, mode)
				is := slices.ContainsFunc(all, func(s state) bool { return (mode == AnyReading || s.sharp) && q.of(s) })
				switch {
				case answer == No && is:
					t.Fatalf("%s (%s, sharp %v) is said to be impossible\n%s", q.kind, q.name, mode,
						files["rules.yaml"].Data)
				case answer == No:
					no++
				case box != nil && box.Sure():
					b.checkWitness(t, rs, run, box, mode, q)
				case box != nil:
					unsure++
					if _, err := box.Settings(mode); err == nil {
						t.Fatalf("%s (%s): a case was written of what is not analysed", q.kind, q.name)
					}
				}
			}
		}
	})
	if !testing.Short() && (no < 100 || unsure < 100) {
		t.Errorf("no %d times, unsure %d times: the bases are too easy", no, unsure)
	}
}

// TestToldOutside: what lies outside is told, each with its reason, and nothing else is.
func TestToldOutside(t *testing.T) {
	inside := []string{"glow > 2", `shade == "red"`, "seen(glow)", "unclear(glow)", `claim == "opal"`, "stone.mounted",
		"seen(odd)", `"dot" in marks`, "stake > 3"}
	rules := "  - {rule: a, says: s, source: s, establishes: {odd: true, strength: {is: pull * 2}}}\n"
	for i, c := range append(slices.Clone(inside), beyond...) {
		rules += fmt.Sprintf("  - {rule: r%d, says: s, source: s, if: '%s', cautions: x}\n", i, c)
	}
	rs := fixed(t, rules)
	s := NewSpace(rs)
	for i, c := range append(slices.Clone(inside), beyond...) {
		for _, n := range rs.Rule(fmt.Sprintf("r%d", i)).If.Leaves() {
			if why, is := s.Outside(n.Leaf); is != (i >= len(inside)) || is == (why == "") {
				t.Errorf("%s: outside %v, %q", c, is, why)
			}
		}
	}
	// Whether a computed quantity is there is never undecided, and told the same however it is asked.
	asked := rs.Rule(fmt.Sprintf("r%d", len(inside)+len(beyond)-1)).If.Root
	told := s.Told(rs.Fact("strength").Slot)
	for i, f := range []*Formula{And(told, s.FailsAt(asked)), And(Not(told), s.Holds(asked)),
		And(Not(s.Holds(asked)), Not(s.FailsAt(asked)))} {
		if _, answer := s.Satisfy(f, AnyReading); answer != No {
			t.Errorf("question %d: answer %d", i, answer)
		}
	}
}

// TestPeriods: a rule fires from its since on, and no longer on its until; a draft is tried before it begins.
func TestPeriods(t *testing.T) {
	rs := fixed(t, `  - {rule: spring, says: s, source: s, since: 2031-03-01, until: 2031-06-01, cautions: x}
  - {rule: summer, says: s, source: s, since: 2031-06-01, until: 2031-09-01, cautions: x}
  - {rule: later, says: s, source: s, since: 2031-05-01, until: 2031-07-01, cautions: x}
  - {rule: draft, says: s, source: s, status: draft, since: 2031-08-01, cautions: x}
`)
	s := NewSpace(rs)
	fires := func(id string) *Formula { return s.Fires(rs.Rule(id)) }
	for _, c := range []struct {
		f     *Formula
		want  Answer
		taken string // of the case that shows it
	}{
		{And(fires("spring"), fires("summer")), No, ""},
		{And(fires("spring"), fires("later")), Yes, "2031-05-01T00:00:00Z"},
		{And(fires("summer"), fires("later")), Yes, "2031-06-01T00:00:00Z"},
		{And(Not(fires("spring")), Not(fires("summer")), fires("later")), No, ""},
		{s.Fails(rs.Rule("draft")), No, ""},
		{And(fires("spring"), fires("draft")), Yes, "2031-03-01T00:00:00Z"},
		{And(s.Fails(rs.Rule("spring")), s.Fails(rs.Rule("summer"))), Yes, "2031-02-28T23:59:59Z"},
	} {
		box, answer := s.Satisfy(c.f, AnyReading)
		if answer != c.want {
			t.Errorf("answer %d, want %d", answer, c.want)
			continue
		}
		if box == nil {
			continue
		}
		settings, err := box.Settings(AnyReading)
		if err != nil || len(settings) != 1 || settings[0].Name != "taken" || settings[0].Says != c.taken ||
			syntax.WriteLine(settings[0].Value) != strconv.Quote(c.taken) {
			t.Errorf("settings %v, %v; want taken %s", settings, err, c.taken)
		}
	}
	run := eval.New(rs)
	c, _ := readCase(rs, "format: 1\ncase: a\n")
	run.Do(c, anyDay.AddDate(-1, 0, 0))
	if run.Rules[rs.Rule("draft").Turn] != kleene.Holds {
		t.Error("the evaluator does not try a draft before it begins")
	}
}

// TestLongChains: facts that rest on facts, each twice, don't make formulas or searches grow without bound.
func TestLongChains(t *testing.T) {
	for name, step := range map[string]string{
		"one way": "  - {rule: a-%[1]d, says: s, source: s, if: f%[1]d, establishes: {f%[2]d: true}}\n  - {rule: " +
			"b-%[1]d, says: s, source: s, if: f%[1]d or stone.wet, establishes: {f%[2]d: true}}\n",
		"both ways": "  - {rule: a-%[1]d, says: s, source: s, if: 'f%[1]d and echo == \"dull\"', establishes: " +
			"{f%[2]d: true}}\n  - {rule: b-%[1]d, says: s, source: s, if: not f%[1]d and stone.mounted, establishes: " +
			"{f%[2]d: true}}\n",
	} {
		const depth = 40
		rules := "  - {rule: first, says: s, source: s, if: 'shade == \"red\"', establishes: {f0: true}}\n"
		for i := range depth {
			rules += fmt.Sprintf(step, i, i+1)
		}
		rules += fmt.Sprintf("  - {rule: last, says: s, source: s, if: f%d, sets_aside: glow, cautions: x}\n", depth) +
			"  - {rule: reader, says: s, source: s, if: glow > 2, cautions: x}\n"
		rs := fixed(t, rules)
		s := NewSpace(rs)
		last, reader := s.Fires(rs.Rule("last")), s.Fires(rs.Rule("reader"))
		for i, c := range []struct {
			f    *Formula
			want Answer
		}{{last, Yes}, {reader, Yes}, {And(last, reader), No}, {And(s.Fails(rs.Rule("last")), reader), Yes}} {
			if _, got := s.Satisfy(c.f, AnyReading); got != c.want {
				t.Errorf("%s, question %d: %d, want %d", name, i, got, c.want)
			}
		}
		if got := s.Observables(reader); len(got) != 3 && name == "both ways" || len(got) == 0 {
			t.Errorf("%s: it looks at %d readings", name, len(got))
		}
	}
}
