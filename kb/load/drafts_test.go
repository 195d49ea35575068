package load_test

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/load"
	"whystone/kb/load/loadtest"
	"whystone/kb/logic"
)

// TestWithDrafts: with a draft active the ruleset is what the same files would be that say so, digest included; the one
// that it was made of stays as it is.
func TestWithDrafts(t *testing.T) {
	rules := `
  - {rule: heavy, says: x, if: specific_gravity > 4, establishes: {heavy: true}, status: draft}
  - {rule: heavier, says: x, if: specific_gravity > 5, establishes: {heavy: true}}
  - {rule: reads, says: x, if: heavy, excludes: [quartz], family: density}
  - rule: other
    says: x
    if: ri > 1.7
    sets_aside: [facet_doubling]
    status: "draft"
    examples: [{readings: {ri: 1.75}, is: holds}]
`
	rs := loadtest.WithRules(t, rules)
	before := dump(t, rs)
	for _, tt := range []struct {
		ids     []string
		written string
	}{
		{[]string{"heavy"}, strings.Replace(rules, "status: draft", "status: active", 1)},
		{[]string{"other"}, strings.Replace(rules, `status: "draft"`, "status: active", 1)},
		{[]string{"other", "heavy"}, strings.NewReplacer("status: draft", "status: active", `status: "draft"`,
			`status: active`).Replace(rules)},
		{nil, strings.NewReplacer("status: draft", "status: active", `status: "draft"`,
			`status: active`).Replace(rules)},
	} {
		got, out := load.WithDrafts(rs, tt.ids...)
		if got == nil {
			t.Fatal(loadtest.Render(t, out))
		}
		if d := cmp.Diff(dump(t, loadtest.WithRules(t, tt.written)), dump(t, got)); d != "" {
			t.Errorf("%v: %s", tt.ids, d)
		}
		if failed := loadtest.CheckExamples(got, loadtest.Day); len(failed) > 0 {
			t.Error(loadtest.Render(t, failed))
		}
	}
	if d := cmp.Diff(before, dump(t, rs)); d != "" {
		t.Error(d)
	}
	heavy, _ := load.WithDrafts(rs, "heavy")
	if got := heavy.Rule("heavy"); got.Status != kb.Active || rs.Rule("heavy").Status != kb.Draft ||
		heavy.Rule("other").Status != kb.Draft {
		t.Error("another rule than the draft was made active")
	}
	for _, on := range []*kb.Ruleset{rs, heavy} {
		want := map[*kb.Ruleset]string{rs: "reads fails", heavy: "reads holds"}[on]
		if got := loadtest.Truths(t, on, loadtest.RunOn(t, on, "readings: {specific_gravity: 4.5}"),
			"reads"); got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
}

// TestWithoutDrafts: a ruleset without drafts is itself.
func TestWithoutDrafts(t *testing.T) {
	rs := loadtest.Must(t, nil)
	if got, out := load.WithDrafts(rs); got != rs || len(out) > 0 {
		t.Error("it was built anew")
	}
}

// TestDraftsRefused: what can't be made active, and why.
func TestDraftsRefused(t *testing.T) {
	rs := loadtest.WithRules(t, `
  - {rule: to, says: x, if: facet_doubling == "none", sets_aside: [ri]}
  - {rule: fro, says: x, if: ri > 1.5, establishes: {fact: true}, status: draft}
  - {rule: uses, says: x, if: fact, establishes: {other: true}, status: draft}
  - {rule: back, says: x, if: other, establishes: {fact: true}, status: draft}
  - {rule: weighs, says: x, if: high_index, excludes: [quartz]}
  - {rule: mixes, says: x, if: 'colour == "red"', establishes: {high_index: true}, status: draft}
  - {rule: gone, says: x, if: ri > 1.5, cautions: x, status: retired}
`)
	for _, tt := range []struct {
		ids        []string
		code, says string
	}{
		{[]string{"fro"}, "", ""},
		{[]string{"fro", "uses"}, "", ""},
		{[]string{"uses", "back"}, "circle-of-facts", "depend on each other in a circle"},
		{nil, "family-needed", "several families"},
		{[]string{"mixes"}, "family-needed", `"weighs" names readings of several families`},
		{[]string{"fr"}, "no-draft", `there is no rule "fr"`},
		{[]string{"weighs"}, "no-draft", "is active"},
		{[]string{"gone"}, "no-draft", "is retired"},
	} {
		got, out := load.WithDrafts(rs, tt.ids...)
		if (got == nil) != (tt.code != "") {
			t.Errorf("%v: %s", tt.ids, loadtest.Render(t, out))
			continue
		}
		if got == nil && !slices.ContainsFunc(out, func(d diag.Diagnostic) bool {
			return string(d.Code) == tt.code &&
				strings.Contains(d.Summary, tt.says)
		}) {
			t.Errorf("%v: %s is not among\n%s", tt.ids, tt.code, loadtest.Render(t, out))
		}
	}
	if _, out := load.WithDrafts(rs, "fr"); out[0].Nearest != "fro" {
		t.Errorf("the nearest draft is %q", out[0].Nearest)
	}
}

// TestDraftInARow: a row of a table is made active by itself.
func TestDraftInARow(t *testing.T) {
	table := func(status string) map[string]string {
		return map[string]string{"t.yaml": fmt.Sprintf(`
format: 1
tables:
  - table: by-light
    says: x
    source: invented
    status: draft
    columns: [ri, colour]
    rows:
      - {row: low, ri: below 1.5, colour: red, cautions: Low., %s}
      - {row: high, ri: 1.5 to 1.8, colour: any, cautions: High.}
`, status)}
	}
	rs := loadtest.Must(t, table(""))
	got, out := load.WithDrafts(rs, "by-light-low")
	if got == nil {
		t.Fatal(loadtest.Render(t, out))
	}
	if d := cmp.Diff(dump(t, loadtest.Must(t, table("status: active"))), dump(t, got)); d != "" {
		t.Error(d)
	}
}

// TestDraftsOfRandomRules: whichever of some rules are drafts and whichever are made active, it is as if the files said
// so.
func TestDraftsOfRandomRules(t *testing.T) {
	base := loadtest.Small(t, nil)
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "rules")
		var lines []string
		drafts := map[string]int{}
		for i := range n {
			id := fmt.Sprintf("rule-%d", i)
			line := fmt.Sprintf("  - {rule: %s, says: x, if: %s, ", id,
				rapid.SampledFrom([]string{"ri > 1.5", "fact_0", "fact_1 or ri > 1.7", "not fact_0",
					"stone.wet"}).Draw(t, "if"))
			line += rapid.SampledFrom([]string{"cautions: x", "establishes: {fact_0: true}",
				"establishes: {fact_1: true}", "sets_aside: [colour]",
				"excludes: [quartz], family: refraction"}).Draw(t, "effect")
			if rapid.Bool().Draw(t, "draft") {
				drafts[id] = i
				line += ", status: draft"
			}
			lines = append(lines, line+"}")
		}
		facts := "  - {rule: facts, says: x, if: specific_gravity > 2, establishes: {fact_0: true, fact_1: true}}\n"
		built := func(lines []string) (*kb.Ruleset, diag.List) {
			return load.Load(t.Context(),
				loadtest.Stack(base, map[string]string{"r.yaml": "format: 1\nrules:\n" + facts +
					strings.Join(lines, "\n") + "\n"}))
		}
		rs, _ := built(lines)
		if rs == nil || len(drafts) == 0 {
			return
		}
		chosen := rapid.SliceOfNDistinct(rapid.SampledFrom(slices.Sorted(maps.Keys(drafts))), 1, len(drafts),
			rapid.ID[string]).Draw(t, "chosen")
		written := slices.Clone(lines)
		for _, id := range chosen {
			written[drafts[id]] = strings.Replace(written[drafts[id]], "status: draft", "status: active", 1)
		}
		want, refused := built(written)
		got, out := load.WithDrafts(rs, chosen...)
		switch {
		case (want == nil) != (got == nil):
			t.Fatalf("as written: %v\nas drafts: %v", refused, out)
		case want == nil:
			if d := cmp.Diff(said(refused), said(out)); d != "" {
				t.Fatal(d)
			}
		default:
			if d := cmp.Diff(dump(t, want), dump(t, got)); d != "" {
				t.Fatal(d)
			}
		}
	})
}

func said(l diag.List) []string {
	var out []string
	for _, d := range l {
		out = append(out, string(d.Code)+" "+d.Summary)
	}
	return out
}

// TestDraftsAreTriedEarly: a draft is tried before its since, and not after its until; the digest is that of files
// without the since.
func TestDraftsAreTriedEarly(t *testing.T) {
	rule := func(status, dates string) string {
		return "\n  - {rule: dated, says: x, if: ri > 1.5, cautions: x, status: " + status + dates + "}\n"
	}
	rs := loadtest.WithRules(t, rule("draft", ", since: 2031-05-01, until: 2031-06-01"))
	trial, out := load.WithDrafts(rs)
	if trial == nil {
		t.Fatal(loadtest.Render(t, out))
	}
	if d := cmp.Diff(dump(t, loadtest.WithRules(t, rule("active", ", until: 2031-06-01"))), dump(t, trial)); d != "" {
		t.Error(d)
	}
	active := loadtest.WithRules(t, rule("active", ", since: 2031-05-01, until: 2031-06-01"))
	for _, tt := range []struct{ on, draft, trial, active string }{
		{"2031-04-30", "holds", "holds", "fails"},
		{"2031-05-01", "holds", "holds", "holds"},
		{"2031-05-31", "holds", "holds", "holds"},
		{"2031-06-01", "fails", "fails", "fails"},
	} {
		for on, want := range map[*kb.Ruleset]string{rs: tt.draft, trial: tt.trial, active: tt.active} {
			run := eval.New(on)
			c := loadtest.Case(t, on, "taken: "+tt.on+"\nreadings: {ri: 1.6}")
			if run.Do(c, c.Taken); run.Rules[on.Rule("dated").Turn].String() != want {
				t.Errorf("on %s: %s, want %s", tt.on, run.Rules[on.Rule("dated").Turn], want)
			}
		}
	}
}

// TestDatesAtMidnight: a rule's days begin and end at midnight in the policy's zone, wherever the clock stood that
// dated the case. Dublin is an hour ahead of UTC from the last Sunday of March (30 March 2031) to that of October (IANA
// time zone database; Standard Time (Amendment) Act 1971, from memory).
func TestDatesAtMidnight(t *testing.T) {
	rs := loadtest.WithRules(t, `
  - {rule: spring, says: x, if: ri > 1.5, cautions: x, since: 2031-04-12, until: 2031-04-13}
  - {rule: winter, says: x, if: ri > 1.5, cautions: x, since: 2031-01-10, until: 2031-01-11}
  - {rule: change, says: x, if: ri > 1.5, cautions: x, since: 2031-03-30, until: 2031-03-31}
`)
	for _, tt := range []struct {
		rule, taken string
		want        logic.Value
	}{
		{"spring", "2031-04-11T22:59:59Z", logic.Fails},
		{"spring", "2031-04-11T23:00:00Z", logic.Holds}, // midnight in Dublin
		{"spring", "2031-04-12T00:59:59+02:00", logic.Fails},
		{"spring", "2031-04-12T01:00:00+02:00", logic.Holds},
		{"spring", "2031-04-11T18:59:59-05:00", logic.Holds}, // half a day behind on the calendar
		{"spring", "2031-04-12T22:59:59Z", logic.Holds},
		{"spring", "2031-04-12T23:00:00Z", logic.Fails},
		{"spring", `"2031-04-12 00:00"`, logic.Holds}, // without a zone: the policy's
		{"spring", `"2031-04-12 23:59"`, logic.Holds},
		{"spring", `"2031-04-13 00:00"`, logic.Fails},
		{"spring", "2031-04-12", logic.Holds},
		{"spring", "2031-04-13", logic.Fails},
		{"winter", "2031-01-09T23:59:59Z", logic.Fails},
		{"winter", "2031-01-10T00:00:00Z", logic.Holds},
		{"winter", "2031-01-11T00:00:00Z", logic.Fails},
		{"change", "2031-03-30T00:00:00Z", logic.Holds}, // the day has 23 hours
		{"change", "2031-03-30T22:59:59Z", logic.Holds},
		{"change", "2031-03-30T23:00:00Z", logic.Fails},
	} {
		c := loadtest.Case(t, rs, "taken: "+tt.taken+"\nreadings: {ri: 1.6}")
		run := eval.New(rs)
		if run.Do(c, c.Taken); run.Rules[rs.Rule(tt.rule).Turn] != tt.want {
			t.Errorf("%s, taken %s: it %s", tt.rule, tt.taken, run.Rules[rs.Rule(tt.rule).Turn])
		}
	}
}

// TestNoDayInForce: a rule that ends before it begins is refused, with both places.
func TestNoDayInForce(t *testing.T) {
	for _, tt := range []struct {
		dates string
		wrong bool
	}{{"since: 2031-04-12, until: 2031-04-12", true}, {"until: 2031-04-11, since: 2031-04-12", true},
		{"since: 2031-04-12, until: 2031-04-13", false},
		{"until: 2031-04-12", false}, {"since: 2031-04-12", false}} {
		_, out := loadtest.House(t, map[string]string{"house.yaml": "format: 1\nrules:\n  - {rule: dated, says: x, " +
			"if: ri > 1.5, cautions: x, " + tt.dates + "}\n"})
		if !tt.wrong {
			if len(out) > 0 {
				t.Error(loadtest.Render(t, out))
			}
			continue
		}
		if len(out) != 1 || out[0].Code != "bad-date" || len(out[0].Related) != 1 {
			t.Fatal(tt.dates, loadtest.Render(t, out))
		}
		until, since := out[0].Span.Text(), out[0].Related[0].Span.Text()
		if !strings.Contains(tt.dates, "until: "+until) || !strings.Contains(tt.dates, "since: "+since) {
			t.Errorf("%s: it points at %s and %s", tt.dates, until, since)
		}
	}
}
