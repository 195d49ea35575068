package sat

import (
	"testing"

	"pgregory.net/rapid"

	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/eval"
	kleene "whystone/kb/logic"
)

// around are rules that a condition may lean on: facts, and readings that are set aside.
const around = `  - {rule: wet, says: s, source: s, if: stone.wet, sets_aside: [glow, shade]}
  - {rule: odd, says: s, source: s, if: pull > 3 and not stone.mounted, establishes: {odd: true, kind: coarse}}
  - {rule: fine, says: s, source: s, if: 'echo == "sharp"', unless: unclear(marks), establishes: {kind: fine}}
  - {rule: dated, says: s, source: s, since: 2031-04-01, establishes: {rare: true}}
  - {rule: computes, says: s, source: s, establishes: {strength: {is: pull * 2}}}
`

// FuzzCondition: whatever condition compiles, no case makes it hold and fail at once; and a case that is written down
// of one of the two, of the kind of readings asked for, makes it do so when it is read and the rules are run.
func FuzzCondition(f *testing.F) {
	seeds := append([]string{`glow > 3 and not (shade == "warm")`, `1 < glow <= 2.5 or kind == "coarse"`,
		`near(pull, 2, 0.25) and none(marks, # == "dot")`, `odd and seen(shade) and not rare`,
		`unclear(glow) or claim in ["opal", "ruby"]`, `stake >= 100 and stone.carat == 0.5`, `claim == ""`, `pull <= 0`,
		`glow >= 4 or glow < 1`, `kind == "coarse" and kind == "fine"`, "true or glow > 1"}, beyond...)
	for _, s := range seeds {
		f.Add(s)
	}
	rs := fixed(f, around)
	f.Fuzz(func(t *testing.T, text string) {
		var out diag.List
		c := condition.Compile(text, func(int, int) diag.Span { return diag.Span{} }, rs.Scope, &out)
		if c == nil {
			return
		}
		s, run := NewSpace(rs), eval.New(rs)
		holds, fails := s.Holds(c.Root), s.FailsAt(c.Root)
		for _, mode := range []Mode{AnyReading, Sharp} {
			if _, answer := s.Satisfy(And(holds, fails), mode); answer == Yes {
				t.Fatalf("%s holds and fails at once", text)
			}
			for formula, want := range map[*Formula]kleene.Value{holds: kleene.Holds, fails: kleene.Fails} {
				box, answer := s.Satisfy(formula, mode)
				if answer != Yes || !box.Sure() {
					continue
				}
				settings, err := box.Settings(mode)
				if err != nil {
					t.Fatalf("%s: %s", text, err)
				}
				shown, found := readCase(rs, caseText(settings))
				if shown == nil {
					t.Fatalf("%s: the case is refused\n%s\n%s", text, caseText(settings), found.Error())
				}
				on := anyDay
				if shown.HasTaken {
					on = shown.Taken
				}
				run.Do(shown, on)
				if is, _, err := condition.Evaluate(c, &run.State); is != want {
					t.Fatalf("%s is %s (%v), and should be %s\n%s", text, is, err, want, caseText(settings))
				}
			}
		}
	})
}

// BenchmarkPairs asks of all pairs of rules of one random base whether they can fire together.
func BenchmarkPairs(b *testing.B) {
	drawn := rapid.Custom(func(t *rapid.T) *base { return drawBase(t, true) }).Example(7)
	rs := loaded(b, drawn.files())
	pairs := len(drawn.rules) * (len(drawn.rules) - 1) / 2
	for b.Loop() {
		s := NewSpace(rs)
		for i := range drawn.rules {
			for j := range i {
				s.Satisfy(And(s.Fires(rs.Rule(drawn.rules[i].id)), s.Fires(rs.Rule(drawn.rules[j].id))), AnyReading)
			}
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*pairs), "ns/pair")
}

// BenchmarkGivenUp is the longest that a question can take.
func BenchmarkGivenUp(b *testing.B) {
	s := NewSpace(fixed(b, around))
	hard := pigeons(s, 12)
	for b.Loop() {
		if _, answer := s.Satisfy(hard, AnyReading); answer != Unknown {
			b.Fatal("it was found out")
		}
	}
}
