package ruledraft

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"whystone/engine"
	"whystone/engine/enginetest"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/load"
	"whystone/kb/load/loadtest"
	"whystone/kb/logic"
	"whystone/kb/syntax"
)

// What tests of the engine share, by short names.
var (
	findings = enginetest.Findings
	read     = enginetest.Cases
)

func loaded(tb testing.TB, house fstest.MapFS) *kb.Ruleset {
	tb.Helper()
	if len(house) == 0 {
		return enginetest.Ruleset(tb)
	}
	return enginetest.Ruleset(tb, load.Layer{Name: "house", FS: house})
}

var today = time.Date(2031, 4, 11, 23, 30, 0, 0, time.UTC)

func moment(c *casefile.Case) engine.Moment {
	if c.HasTaken {
		return engine.Moment{On: c.Taken, DatedBy: "taken"}
	}
	return engine.Moment{On: today, DatedBy: "clock"}
}

// begun begins rules with all demo and coverage cases.
func begun(t *testing.T, rs *kb.Ruleset) (cases []*casefile.Case, skeletons []*Skeleton) {
	t.Helper()
	e := engine.Prepare(rs)
	for _, pattern := range []string{"../../testdata/demo/*.yaml", "../../testdata/coverage/*.yaml"} {
		files, err := filepath.Glob(pattern)
		if err != nil || len(files) == 0 {
			t.Fatal("no cases", err)
		}
		for _, f := range files {
			text, err := os.ReadFile(f)
			if err != nil {
				t.Fatal(err)
			}
			for _, c := range read(t, rs, f, string(text)) {
				sk, err := From(e, c, moment(c), today)
				usable := slices.ContainsFunc(c.Readings, func(r *casefile.Reading) bool { return r.Usable() })
				if errors.Is(err, ErrNothing) && (!usable || !askable(rs, c)) {
					continue
				}
				if err != nil {
					t.Fatalf("%s: %s", c.ID, err)
				}
				cases, skeletons = append(cases, c), append(skeletons, sk)
			}
		}
	}
	return cases, skeletons
}

// askable tells whether a rule could see any reading of a case: those that are set aside count for nothing.
func askable(rs *kb.Ruleset, c *casefile.Case) bool {
	w := conditions{rs: rs}
	w.states = append(w.states, stateOf(rs, c, moment(c).On))
	return slices.ContainsFunc(c.Readings, func(r *casefile.Reading) bool { return len(w.of(r.Observable)) > 0 })
}

func files(skeletons []*Skeleton, change func(string) string) fstest.MapFS {
	house := fstest.MapFS{}
	for _, sk := range skeletons {
		house[sk.Rule+".yaml"] = &fstest.MapFile{Data: []byte(change(sk.Text))}
	}
	return house
}

// TestFromEveryCase: the rule begun with any demo or coverage case loads above the shipped ruleset, its examples come
// out, it holds on its case, and its example is its case.
func TestFromEveryCase(t *testing.T) {
	cases, skeletons := begun(t, loaded(t, nil))
	if len(cases) < 100 {
		t.Errorf("only %d rules were begun", len(cases))
	}
	rs := loaded(t, files(skeletons, func(s string) string { return s }))
	if failed := loadtest.CheckExamples(rs, today); len(failed) > 0 {
		t.Error(findings(failed))
	}
	run := eval.New(rs)
	seconds := 0
	for i, sk := range skeletons {
		c, r := cases[i], rs.Rule(sk.Rule)
		if r.Status != kb.Draft || r.Since.Format(time.DateOnly) != "2031-04-12" || r.Source != "the case "+c.ID ||
			r.FromCase() != c.ID {
			t.Errorf("%s: %s, since %s, source %q, from %q", sk.Rule, r.Status, r.Since, r.Source, r.FromCase())
		}
		here := read(t, rs, c.ID, text(c))[0]
		if run.Do(here, moment(c).On); run.Rules[r.Turn] != logic.Holds {
			t.Errorf("%s does not hold on its case: %s\n%s", sk.Rule, run.Rules[r.Turn], sk.Text)
		}
		if got, want := tell(r.Examples[0].Case), tell(here); got != want {
			t.Errorf("%s keeps\n%s\nof\n%s", sk.Rule, got, want)
		}
		if r.Examples[0].Is != logic.Holds || len(r.Examples) == 2 && r.Examples[1].Is != logic.Fails ||
			len(r.Examples) > 2 {
			t.Errorf("%s has other examples than it should", sk.Rule)
		}
		if len(r.Examples) == 2 {
			seconds++
		}
		if strings.Contains(sk.Text, "truth:") || strings.Contains(sk.Text, "recorded:") {
			t.Errorf("%s tells what QA knows", sk.Rule)
		}
		for _, line := range strings.Split(sk.Text, "\n") {
			if len([]rune(line)) > syntax.Width && !strings.Contains(line, `"`) {
				t.Errorf("%s: a long line: %s", sk.Rule, line)
			}
		}
	}
	if seconds < len(cases)/3 {
		t.Errorf("only %d of %d have an example that fails", seconds, len(cases))
	}
}

// text is a case as it was written.
func text(c *casefile.Case) string { return c.Span.Text() }

// tell is all of a case that a condition can see.
func tell(c *casefile.Case) string {
	var b strings.Builder
	fmt.Fprintln(&b, c.ID, c.Claim, c.Taken, c.Stone.Cut, c.Stone.Setting)
	for _, x := range []*float64{c.Stone.Carat, c.Stone.Length, c.Stone.Width, c.Stone.Depth, c.Stake} {
		if x != nil {
			fmt.Fprintln(&b, *x)
		}
	}
	for _, x := range []*bool{c.Stone.Mounted, c.Stone.Warm, c.Stone.Wet, c.Stone.Coated} {
		if x != nil {
			fmt.Fprintln(&b, *x)
		}
	}
	for _, r := range c.Readings {
		fmt.Fprintln(&b, r.Name(), phrase.ReadingText(r), r.U, r.Tests, r.Repeats, r.By, r.At, r.Note)
	}
	return b.String()
}

// TestEvidenceInComments: what stands in comments loads when the "#" is taken away, and ids stand where words say so.
// What stays open is offered as what the rule could speak for, never as what it could exclude.
func TestEvidenceInComments(t *testing.T) {
	_, skeletons := begun(t, loaded(t, nil))
	key := regexp.MustCompile(`(?m)^    # ((excludes|supports|family|sends_on): |  )`)
	rs := loaded(t, files(skeletons, func(s string) string {
		lines := regexp.MustCompile(`(?m)^    # Evidence counts in one (.*\n    #   )*.*\n`).ReplaceAllString(s, "")
		return strings.Replace(key.ReplaceAllString(lines, "    $1"), "[ids of what can't be so]", "[hpht-diamond]", 1)
	}))
	for _, sk := range skeletons {
		if r := rs.Rule(sk.Rule); r.Excludes == nil || len(r.Weights) != 1 || r.SendsOn == "" {
			t.Errorf("%s: not all of it is there", sk.Rule)
		}
		supports, excludes := strings.Index(sk.Text, "# supports: {materials: ["),
			strings.Index(sk.Text, "# excludes: [ids of what can't be so]\n")
		if supports < 0 || excludes < supports {
			t.Errorf("%s: what could exclude comes first, or names what stays open:\n%s", sk.Rule, sk.Text)
		}
	}
}

// TestConditions: how readings of each form are asked for.
func TestConditions(t *testing.T) {
	rs := loaded(t, fstest.MapFS{"policy.yaml": {Data: []byte("format: 1\npolicy:\n  instruments:\n    - " +
		"{instrument: own-balance, test: hydrostatic-weighing, uncertainty: 0.004}\n")}})
	for _, tt := range []struct{ readings, want string }{
		{"specific_gravity: {value: 3.52, uncertainty: 0.02}", "near(specific_gravity, 3.52, 0.04)"},
		{"specific_gravity: {value: 3.52, uncertainty: 0.021}", "near(specific_gravity, 3.52, 0.05)"},
		// the test's uncertainty is 0.02, that of the house's balance 0.004
		{"specific_gravity: 3.5217", "near(specific_gravity, 3.52, 0.1)"},
		{"ri: {above: 1.81}", "ri > 1.81"},
		{"ri: {below: 1.5}", "ri < 1.5"},
		{"specific_gravity: {between: [2.6, 2.7]}", "2.6 <= specific_gravity <= 2.7"},
		{"ri: {above: 1.5, below: 1.6}", "ri > 1.5, ri < 1.6"},
		{"ri: [1.544, 1.553]", "1.542 <= ri <= 1.555"},
		{"ri: [{value: 1.768, where: crown}, {value: 1.524, where: pavilion}]", "1.52 <= ri <= 1.77"},
		{"thermal_probe: diamond range", `thermal_probe == "diamond range"`},
		{"optic_character: doubly refractive", `optic_character == "doubly refractive"`},
		{"facet_doubling: [{choice: slight, where: crown}, {choice: strong, where: table}]",
			`facet_doubling in ["slight", "strong"]`},
		{"inclusions: [feather, crystal]", `"crystal" in inclusions, "feather" in inclusions`},
		{"inclusions: {features: [feather], looked_for: [gas bubbles]}", `"feather" in inclusions`},
		{"inclusions: {looked_for: [gas bubbles, curved striae]}",
			`"curved striae" not in inclusions, "gas bubbles" not in inclusions`},
		{"thermal_probe: {inconclusive: it wavered}", "unclear(thermal_probe)"},
	} {
		c := read(t, rs, "case.yaml", "case: C-1\nreadings: {"+tt.readings+"}\n")[0]
		var wrong diag.List
		ex := eval.CaseReader(rs).ReadExample(given(c.Span, &wrong), &wrong)
		w := conditions{rs: rs}
		w.states = append(w.states, stateOf(rs, c, today), stateOf(rs, ex, today))
		if got := strings.Join(w.of(c.Readings[0].Observable), ", "); got != tt.want {
			t.Errorf("%s: %s, want %s", tt.readings, got, tt.want)
		}
	}
}

// TestReading: a reading of each form is written as it would be typed, a value to the figures that are meant.
func TestReading(t *testing.T) {
	rs := loaded(t, nil)
	for given, want := range map[string]string{
		"specific_gravity: {value: 3.51793, uncertainty: 0.02}": "specific_gravity: 3.52",
		"ri: [1.544, 1.553]":                        "ri: [1.544, 1.553]",
		"ri: {above: 1.81}":                         "ri: {above: 1.81}",
		"ri: {below: 1.5}":                          "ri: {below: 1.5}",
		"specific_gravity: {between: [2.6, 2.7]}":   "specific_gravity: {between: [2.6, 2.7]}",
		"thermal_probe: diamond range":              "thermal_probe: diamond range",
		"thermal_probe: {inconclusive: it wavered}": "thermal_probe: {inconclusive: it wavered}",
		"inclusions: [feather]":                     "inclusions: [feather]",
		"inclusions: {features: [feather], looked_for: [cloud]}": "inclusions: {features: [feather], looked_for: " +
			"[feather, cloud]}",
		"spectrum: {features: [line at 415 nm strong], looked_for: [line at 504 nm]}": "spectrum: {features: " +
			"[line at 415 nm], looked_for: [line at 415 nm, line at 504 nm]}",
	} {
		r := read(t, rs, "case.yaml", "case: C-1\nreadings: {"+given+"}\n")[0].Readings[0]
		if got := syntax.WriteLine(syntax.NewMap(syntax.Keyed(r.Observable.Name, reading(r)))); got != "{"+want+"}" {
			t.Errorf("%s is written\n%s", given, got)
		}
	}
}

// TestHouseInstrument: where the house's own instrument reads more finely than the test's sheet says, the rule holds on
// the case and on its example, which doesn't know the instrument.
func TestHouseInstrument(t *testing.T) {
	for _, u := range []string{"0.004", "0.2"} {
		house := fstest.MapFS{"policy.yaml": {Data: []byte("format: 1\npolicy:\n  instruments:\n    - {instrument: " +
			"own-balance, test: hydrostatic-weighing, uncertainty: " + u + "}\n")}}
		rs := loaded(t, house)
		c := read(t, rs, "case.yaml", "case: C-1\nreadings: {specific_gravity: 5.9, ri: {above: 1.81}}\n")[0]
		sk, err := From(engine.Prepare(rs), c, moment(c), today)
		if err != nil {
			t.Fatal(err)
		}
		house["rule.yaml"] = &fstest.MapFile{Data: []byte(sk.Text)}
		rs = loaded(t, house)
		if failed := loadtest.CheckExamples(rs, today); len(failed) > 0 {
			t.Error(findings(failed))
		}
		run := eval.New(rs)
		if run.Do(read(t, rs, "case.yaml", text(c))[0], today); run.Rules[rs.Rule(sk.Rule).Turn] != logic.Holds {
			t.Errorf("with %s it does not hold\n%s", u, sk.Text)
		}
	}
}

// TestIDs: the rule's id is the case's number in an id's letters, and no rule's of today or of old.
func TestIDs(t *testing.T) {
	house := `
format: 1
rules:
  - {rule: from-a-1, says: x, cautions: x, was: [from-a-1-2], source: x}
  - {rule: from-a-1-3, says: x, cautions: x, source: x}
`
	rs := loaded(t, fstest.MapFS{"r.yaml": {Data: []byte(house)}})
	for number, want := range map[string]string{"HQ-0412": "from-hq-0412", "A 1": "from-a-1-4", "Nº 7/β": "from-n-7",
		"β": "from-case", "--": "from-case", "a__b": "from-a-b"} {
		if got := freeID(rs, number); got != want {
			t.Errorf("%q: %s, want %s", number, got, want)
		}
	}
}

// TestNothingToAsk: a case without a reading that counts begins no rule.
func TestNothingToAsk(t *testing.T) {
	rs := loaded(t, nil)
	for _, readings := range []string{"{}", "{sinks_in_water: sinks}", "{thermal_probe: {inconclusive: it wavered}}"} {
		c := read(t, rs, "case.yaml", "case: C-1\nreadings: "+readings+"\n")[0]
		if _, err := From(engine.Prepare(rs), c, moment(c), today); !errors.Is(err, ErrNothing) {
			t.Errorf("%s: %v", readings, err)
		}
	}
}

// TestOtherForms: a case in JSON, in a list, and in YAML that is set in, is kept as it was given; what it holds for QA
// is not.
func TestOtherForms(t *testing.T) {
	rs := loaded(t, nil)
	e := engine.Prepare(rs)
	for _, given := range []string{
		`{"case": "J: \"1\"\n", "claim": "diamond", "taken": "2031-04-01", "readings": {"ri": {"above": 1.81}, "specific_gravity": 5.9e0, "inclusions": ["feather"]}, "truth": "cubic-zirconia", "recorded": {"verdict": "narrowed"}, "note": "secret"}`,
		"   case: yes-man\n   readings:\n      ri: {above: 1.81}\n      specific_gravity:\n      - {value: 5.90, " +
			"where: here, note: 'a: b'}\n      - {value: 5.91, where: here}\n   truth: cubic-zirconia\n",
	} {
		var out diag.List
		src := diag.NewSource("case", []byte(given))
		n := syntax.ParseJSON(src, &diag.List{})
		if n == nil {
			n = syntax.ParseYAML(src, &out)[0]
		}
		c := eval.CaseReader(rs).Read(n, &out)
		if c == nil {
			t.Fatal(findings(out))
		}
		sk, err := From(e, c, moment(c), today)
		if err != nil {
			t.Fatal(err)
		}
		with := loaded(t, fstest.MapFS{"r.yaml": {Data: []byte(sk.Text)}})
		if got, want := tell(with.Rule(sk.Rule).Examples[0].Case), tell(c); got != want {
			t.Errorf("%s\nkept: %s\nof: %s", sk.Text, got, want)
		}
		if strings.Contains(sk.Text, "truth") || strings.Contains(sk.Text, "secret") ||
			strings.Contains(sk.Text, "recorded") {
			t.Error(sk.Text)
		}
	}
}

// TestExampleThatFails: a changed reading makes an example only where the condition fails on it, with the uncertainty
// that was given.
func TestExampleThatFails(t *testing.T) {
	rs := loaded(t, nil)
	w := &writer{rs: rs, parts: []string{"near(specific_gravity, 3.9, 0.3)", "ri > 1.7"}}
	for readings, want := range map[string]bool{
		"{specific_gravity: 4.5}":                            true,
		"{specific_gravity: 4.5, ri: 1.76}":                  true,
		"{specific_gravity: {value: 4.5, uncertainty: 0.2}}": false, // undecided
		"{specific_gravity: 3.95, ri: 1.76}":                 false, // holds
		"{specific_gravity: 99}":                             false, // can't be
	} {
		var out diag.List
		n := syntax.ParseYAML(diag.NewSource("t.yaml", []byte("readings: "+readings)), &out)[0]
		if got := w.fails(n); got != want {
			t.Errorf("%s: %t", readings, got)
		}
	}
	c := read(t, rs, "case.yaml", "case: C-1\nreadings: {specific_gravity: {value: 3.9, uncertainty: 0.15}, ri: "+
		"{value: 1.76, uncertainty: 0.02}, facet_doubling: none}\n")[0]
	sk, err := From(engine.Prepare(rs), c, moment(c), today)
	if err != nil || !strings.Contains(sk.Text,
		"          ri: {value: 1.58, uncertainty: 0.02}\n          facet_doubling: none\n        is: fails\n") {
		t.Errorf("%v\n%s", err, sk.Text)
	}
}
