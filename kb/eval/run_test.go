package eval_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/eval"
	"whystone/kb/load/loadtest"
	"whystone/kb/logic"
	"whystone/kb/quantity"
)

const factRules = `
  - {rule: one, says: x, if: ri > 1.6, establishes: {dense: true, klass: heavy, derived: {is: ri * 2}}}
  - {rule: other, says: x, if: specific_gravity > 3, establishes: {dense: true, klass: light, derived: {is: specific_gravity}}}
  - {rule: dense, says: x, if: dense, cautions: x}
  - {rule: heavy, says: x, if: klass == "heavy", cautions: x}
  - {rule: large, says: x, if: derived > 3.1, cautions: x}
`

// TestFacts: a truth that rules establish holds if one of them fires, fails if all fail, else is undecided; a choice or
// a quantity is absent until one fires, and undecided when two give unlike values.
func TestFacts(t *testing.T) {
	rs := loadtest.WithRules(t, factRules)
	tests := []struct{ readings, want, causes string }{
		{"{}", "dense undecided, heavy undecided, large undecided", "dense is not decided"},
		{"{ri: 1.7}", "dense holds, heavy holds, large holds", ""},
		{"{ri: 1.5}", "dense undecided, heavy undecided, large undecided", "dense is not decided"},
		{"{ri: 1.5, specific_gravity: 2.6}", "dense fails, heavy undecided, large undecided", ""},
		{"{ri: 1.5, specific_gravity: 4}", "dense holds, heavy fails, large holds", ""},
		{"{ri: 1.7, specific_gravity: 4}", "dense holds, heavy undecided, large undecided", ""},
		{"{ri: 1.7, specific_gravity: 3.4}", "dense holds, heavy undecided, large undecided", ""},
	}
	for _, tt := range tests {
		run := loadtest.RunOn(t, rs, "readings: "+tt.readings)
		if got := loadtest.Truths(t, rs, run, "dense", "heavy", "large"); got != tt.want {
			t.Errorf("%s: %s, want %s", tt.readings, got, tt.want)
		}
		var causes []string
		for _, c := range run.Causes(rs.Rule("dense")) {
			causes = append(causes, c.String())
		}
		if got := strings.Join(causes, " | "); got != tt.causes {
			t.Errorf("%s: %s, want %s", tt.readings, got, tt.causes)
		}
	}
	run := loadtest.RunOn(t, rs, "readings: {ri: 1.7, specific_gravity: 4}")
	for id, name := range map[string]string{"heavy": "klass", "large": "derived"} {
		want := []logic.Cause{{Name: name, Why: logic.Disagree, Says: "rules disagree"}}
		if d := cmp.Diff(want, run.Causes(rs.Rule(id))); d != "" {
			t.Errorf("%s: %s", id, d)
		}
	}
	run = loadtest.RunOn(t, rs, "readings: {ri: 1.7, specific_gravity: 2}")
	if d := cmp.Diff([]logic.Cause(nil), run.Causes(rs.Rule("large"))); d != "" {
		t.Errorf("of what is decided there are causes: %s", d)
	}
}

// TestRulesThatAgree: two rules may give one value.
func TestRulesThatAgree(t *testing.T) {
	rs := loadtest.WithRules(t, `
  - {rule: one, says: x, if: ri > 1.6, establishes: {klass: heavy, derived: {is: ri + ri}}}
  - {rule: other, says: x, if: ri > 1.5, establishes: {klass: heavy, derived: {is: ri * 2}}}
  - {rule: heavy, says: x, if: klass == "heavy" and derived > 3, cautions: x}
`)
	if got := loadtest.Truths(t, rs, loadtest.RunOn(t, rs, "readings: {ri: 1.7}"), "heavy"); got != "heavy holds" {
		t.Error(got)
	}
}

// TestSetAside: what is set aside counts for nothing in rules that come after, whatever their names; the list holds
// only what the case has.
func TestSetAside(t *testing.T) {
	rs := loadtest.WithRules(t, `
  - {rule: a-reader, says: x, if: thermal_probe == "diamond range", cautions: x}
  - {rule: a-seer, says: x, if: seen(thermal_probe) or unclear(breath_fog), cautions: x}
`)
	wet := loadtest.RunOn(t, rs, "stone: {wet: true}\nreadings: {thermal_probe: diamond range}")
	if got := loadtest.Truths(t, rs, wet, "wet-stone", "a-reader",
		"a-seer"); got != "wet-stone holds, a-reader undecided, a-seer fails" {
		t.Error(got)
	}
	if len(wet.SetAside) != 1 || wet.SetAside[0].Observable.Name != "thermal_probe" ||
		wet.SetAside[0].Rule.ID != "wet-stone" {
		t.Errorf("set aside: %v", wet.SetAside)
	}
	if d := cmp.Diff([]logic.Cause{{Name: "thermal_probe", Why: logic.SetAside,
		Says: "A wet stone tells a thermal probe nothing."}}, wet.Causes(rs.Rule("a-reader"))); d != "" {
		t.Error(d)
	}
	dry := loadtest.RunOn(t, rs, "stone: {wet: false}\nreadings: {thermal_probe: diamond range, breath_fog: lingers}")
	if got := loadtest.Truths(t, rs, dry, "a-reader", "a-seer"); got != "a-reader holds, a-seer holds" ||
		len(dry.SetAside) != 1 {
		t.Errorf("%s; %v", got, dry.SetAside)
	}
	unclear := loadtest.RunOn(t, rs, "stone: {wet: true}\nreadings: {thermal_probe: {inconclusive: worn}}")
	if got := unclear.Causes(rs.Rule("a-reader")); len(got) != 1 || got[0].Why != logic.Inconclusive {
		t.Errorf("what stayed inconclusive is %v", got)
	}
}

// TestRays: two rays give the birefringence where nobody read it, it goes when they are set aside, and only then.
func TestRays(t *testing.T) {
	rs := loadtest.WithRules(t, `
  - {rule: rays, says: x, if: birefringence > 0.006, cautions: x}
  - {rule: no-rays, says: x, if: birefringence < 0.02, cautions: x}
  - {rule: mounted-index, says: The setting is in the way., if: stone.mounted, sets_aside: [ri]}
`)
	tests := []struct{ text, want string }{
		{"readings: {ri: [1.544, 1.553]}", "rays holds, no-rays holds"}, // 0.009 ± 0.0014
		{"readings: {ri: 1.544}", "rays undecided, no-rays undecided"},
		{"readings: {ri: [1.544, 1.553], birefringence: 0.03}", "rays holds, no-rays fails"},
		{"readings: {ri: [1.544, 1.553], birefringence: {inconclusive: blurred}}", "rays undecided, no-rays undecided"},
		{"readings: {ri: [{value: [1.544, 1.553], where: crown}, {value: [1.54, 1.54], where: pavilion}]}",
			"rays undecided, no-rays holds"},
		{"readings: {ri: [{value: 1.62, where: crown}, {value: [1.544, 1.553], where: pavilion}]}",
			"rays holds, no-rays holds"},
		{"stone: {mounted: true}\nreadings: {ri: [1.544, 1.553]}", "rays undecided, no-rays undecided"},
		{"stone: {mounted: true}\nreadings: {ri: [1.544, 1.553], birefringence: 0.03}", "rays holds, no-rays fails"},
	}
	for _, tt := range tests {
		run := loadtest.RunOn(t, rs, tt.text)
		if got := loadtest.Truths(t, rs, run, "rays", "no-rays"); got != tt.want {
			t.Errorf("%s: %s, want %s", tt.text, got, tt.want)
		}
	}
	run := loadtest.RunOn(t, rs, tests[0].text)
	d := run.State.Slots[rs.Vocabulary.Observable("birefringence").Index]
	if !run.FromRays() || len(d.Values) != 1 || d.Values[0].Format(&run.State.Context) != "0.0090 ± 0.0014" {
		t.Errorf("the difference is %s", d.Values[0].Format(&run.State.Context))
	}
}

// TestDraftsAndDates: a draft is evaluated and changes nothing; a rule is in force from since on, and until its until.
func TestDraftsAndDates(t *testing.T) {
	rs := loadtest.WithRules(t, `
  - {rule: draft, says: x, if: ri > 1.5, status: draft, establishes: {fact: true}, sets_aside: [facet_doubling]}
  - {rule: draft-that-fails, says: x, if: 1 / (ri - 1.6) > 0, status: draft, cautions: x}
  - {rule: retired, says: x, if: ri > 1.5, status: retired, establishes: {gone: true}}
  - {rule: dated, says: x, if: ri > 1.5, since: 2031-04-12, until: 2031-04-13, establishes: {dated_fact: true}, sets_aside: [colour]}
  - {rule: reads, says: x, if: fact or facet_doubling == "none", cautions: x}
  - {rule: reads-dated, says: x, if: dated_fact, cautions: x}
  - {rule: reads-colour, says: x, if: colour == "red", cautions: x}
`)
	if rs.Rule("retired").Turn != -1 {
		t.Error("a retired rule is evaluated")
	}
	run := eval.New(rs)
	c := loadtest.Case(t, rs, "readings: {ri: 1.6, facet_doubling: none, colour: red}")
	dublin := rs.Policy.Zone
	for on, want := range map[time.Time]string{
		time.Date(2031, 4, 11, 23, 59, 59, 0, dublin): "dated fails, reads-dated fails, reads-colour holds",
		time.Date(2031, 4, 12, 0, 0, 0, 0, dublin):    "dated holds, reads-dated holds, reads-colour undecided",
		time.Date(2031, 4, 12, 23, 59, 59, 0, dublin): "dated holds, reads-dated holds, reads-colour undecided",
		time.Date(2031, 4, 13, 0, 0, 0, 0, dublin):    "dated fails, reads-dated fails, reads-colour holds",
	} {
		run.Do(c, on)
		if got := loadtest.Truths(t, rs, run, "dated", "reads-dated", "reads-colour"); got != want {
			t.Errorf("on %s: %s, want %s", on, got, want)
		}
		if got := loadtest.Truths(t, rs, run, "draft", "reads"); got != "draft holds, reads holds" ||
			len(run.Faults) != 0 {
			t.Errorf("on %s: %s, faults %v", on, got, run.Faults)
		}
		if run.InForce[rs.Rule("dated").Turn] != strings.HasPrefix(want, "dated holds") {
			t.Errorf("on %s it is in force: %t", on, run.InForce[rs.Rule("dated").Turn])
		}
	}
}

// TestFaults: arithmetic that fails is told, with its rule, and never passes for "did not fire". What doesn't hang on
// it is no fault.
func TestFaults(t *testing.T) {
	rs := loadtest.WithRules(t, `
  - {rule: divides, says: x, if: specific_gravity / (ri - ri) > 1, cautions: x}
  - {rule: divides-too, says: x, if: 'colour == "red" or specific_gravity / (ri - ri) > 1', cautions: x}
  - {rule: derives, says: x, if: ri > 1.5, establishes: {derived: {is: 1 / (ri - ri)}}}
  - {rule: reads, says: x, if: derived > 1, cautions: x}
`)
	faulty := func(run *eval.Run) string {
		var out []string
		for _, f := range run.Faults {
			if !errors.Is(f.Err, quantity.ErrDivideByZero) {
				t.Errorf("%s: %v", f.Rule.ID, f.Err)
			}
			out = append(out, f.Rule.ID)
		}
		return strings.Join(out, " ")
	}
	for readings, want := range map[string]string{
		"{ri: 1.6, specific_gravity: 3}":               "derives divides divides-too",
		"{ri: 1.6, specific_gravity: 3, colour: blue}": "derives divides divides-too",
		"{ri: 1.6, specific_gravity: 3, colour: red}":  "derives divides",
		"{ri: 1.4, specific_gravity: 3, colour: red}":  "divides",
		"{ri: 1.6}":             "derives",
		"{specific_gravity: 3}": "",
	} {
		run := loadtest.RunOn(t, rs, "readings: "+readings)
		if !rs.Rule("divides").OnlyAdvises() || rs.Rule("derives").OnlyAdvises() {
			t.Error("which rules do no more than advise")
		}
		if got := faulty(run); got != want {
			t.Errorf("%s: faults of %q, want %q", readings, got, want)
		}
		if got := run.Rules[rs.Rule("divides").Turn]; got != logic.Undecided {
			t.Errorf("%s: what can't be evaluated %s", readings, got)
		}
		if strings.Contains(want, "derives") {
			if got := run.Causes(rs.Rule("reads")); len(got) != 1 || got[0].Why != logic.Absent {
				t.Errorf("%s: %v", readings, got)
			}
		}
	}
}

// TestExceptions: a rule fires when "if" holds and "unless" does not; while that is undecided it waits, and is listed
// so.
func TestExceptions(t *testing.T) {
	rs := loadtest.WithRules(t, `
  - {rule: excepted, says: x, if: ri > 1.5, unless: stone.mounted, cautions: x}
  - {rule: without, says: x, if: ri > 1.5, cautions: x}
  - {rule: always-unless, says: x, unless: stone.mounted, cautions: x}
`)
	for text, want := range map[string]string{
		"readings: {ri: 1.6}\nstone: {mounted: false}": "holds false holds false",
		"readings: {ri: 1.6}\nstone: {mounted: true}":  "fails false fails false",
		"readings: {ri: 1.6}":                          "undecided true undecided true",
		"readings: {ri: 1.4}":                          "fails false undecided true",
		"readings: {}":                                 "undecided false undecided true",
		"readings: {}\nstone: {mounted: true}":         "fails false fails false",
	} {
		run := loadtest.RunOn(t, rs, text)
		a, b := rs.Rule("excepted").Turn, rs.Rule("always-unless").Turn
		if got := fmt.Sprint(run.Rules[a], run.Excepted[a], run.Rules[b], run.Excepted[b]); got != want {
			t.Errorf("%s: %s, want %s", text, got, want)
		}
		if run.Excepted[rs.Rule("without").Turn] {
			t.Errorf("%s: a rule without exception waits for one", text)
		}
	}
}

// TestCorrelations: readings that err together are told apart better, or worse, than independent ones: the difference
// of two with u 0.01 each has the uncertainty 0.01 sqrt(2 - 2 r) (JCGM 100:2008, 5.2.2).
func TestCorrelations(t *testing.T) {
	rs := loadtest.WithRules(t, `
  - {rule: apart, says: x, if: specific_gravity - ri > 0.98, cautions: x}
  - {rule: cancels, says: x, if: specific_gravity - specific_gravity < 0.0000001, cautions: x}
  - {rule: turned, says: x, if: ri - specific_gravity < -0.98, cautions: x}
`)
	readings := "readings: {ri: {value: 1.5, uncertainty: 0.01}, specific_gravity: {value: 2.5, uncertainty: 0.01}}\n"
	for correlations, want := range map[string]string{
		"":   "apart undecided, turned undecided",
		"0":  "apart undecided, turned undecided",
		"1":  "apart holds, turned holds",
		".6": "apart holds, turned holds", // 2 u = 0.0179
		".4": "apart undecided, turned undecided",
		"-1": "apart undecided, turned undecided",
	} {
		text := readings
		if correlations != "" {
			text += "correlations: [{of: [specific_gravity, ri], r: " + strings.Replace(correlations, ".", "0.", 1) +
				"}]\n"
		}
		run := loadtest.RunOn(t, rs, text)
		if got := loadtest.Truths(t, rs, run, "apart", "turned"); got != want {
			t.Errorf("r = %q: %s, want %s", correlations, got, want)
		}
		if got := loadtest.Truths(t, rs, run, "cancels"); got != "cancels holds" {
			t.Errorf("x - x: %s", got)
		}
	}
}

// TestRunAgain: a run that is used again knows nothing of the case before.
func TestRunAgain(t *testing.T) {
	rs := loadtest.WithRules(t, factRules+`
  - {rule: rays, says: x, if: birefringence > 0.006, cautions: x}
`)
	cases := []string{"readings: {ri: [1.644, 1.653], specific_gravity: 4, thermal_probe: unsteady}\nstone: {wet: " +
		"true, carat: 1}\nclaim: diamond\nstake: 5",
		"readings: {}", "readings: {specific_gravity: {above: 3}, inclusions: [feather]}\ncorrelations: []",
		"readings: {ri: 1.7, specific_gravity: 3.4}\ncorrelations: [{of: [ri, specific_gravity], r: 1}]"}
	used := eval.New(rs)
	for range 3 {
		for _, text := range cases {
			c := loadtest.Case(t, rs, text)
			fresh := eval.New(rs)
			fresh.Do(c, loadtest.Day)
			used.Do(c, loadtest.Day)
			if d := cmp.Diff(showRun(rs, fresh), showRun(rs, used)); d != "" {
				t.Errorf("%s:\n%s", text, d)
			}
		}
	}
}

func showRun(rs *kb.Ruleset, run *eval.Run) (out []string) {
	for _, r := range rs.Order {
		out = append(out, fmt.Sprint(r.ID, " ", run.Rules[r.Turn], run.Excepted[r.Turn], run.InForce[r.Turn],
			run.Causes(r)))
	}
	for i := range rs.Scope.Len() {
		if run.State.Slots[i].Status != condition.Missing {
			out = append(out, rs.Scope.At(i).Name+" "+run.State.Value(rs.Scope, i))
		}
	}
	return append(out, fmt.Sprint(len(run.SetAside), len(run.Faults), run.FromRays()))
}
