package coverage_test

import (
	"encoding/json"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"whystone/engine"
	"whystone/engine/archive"
	"whystone/engine/coverage"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// odd is a layer of rules that the shipped ruleset has no like of: a draft, one in force for a time, two that show the
// same, one without a condition, one that sets aside what is never read, a table.
const odd = `format: 1
rules:
  - {rule: odd-draft, status: draft, says: A draft., source: a test, if: 'seen(ri) and not stone.mounted', cautions: [A draft says so.]}
  - {rule: odd-dated, since: 2031-01-01, until: 2031-07-01, says: For a time., source: a test, if: 'seen(colour) or seen(ri)', cautions: [For a time.]}
  - {rule: odd-twin-a, says: One., source: a test, if: stone.mounted, cautions: [Of two.]}
  - {rule: odd-twin-b, says: Two., source: a test, if: 'stone.mounted and seen(colour)', cautions: [Of two.]}
  - {rule: odd-always, says: Always., source: a test, cautions: [Always.]}
  - {rule: odd-shadow, says: Sets aside what is never read., source: a test, sets_aside: hammer_blow}
tables:
  - table: odd-table
    says: By density.
    source: a test
    columns: [specific_gravity, facet_doubling, stone.mounted]
    rows:
      - {row: dense, specific_gravity: [above 5.5, 3.4 to 3.6], stone.mounted: false, cautions: Dense.}
      - {row: light, specific_gravity: 2.6 to 2.7, facet_doubling: [slight, none], cautions: Light.}
`

// TestAgainstNaiveCount holds every figure to a plain loop: the truth of rules by a run of their own, of parts by
// compiling their text, and what a rule decides by judging each case under a ruleset that was built without it. All
// rules are taken with WHYSTONE_REQUIRE_ALL=1, else every fifth, of -short every twentieth.
func TestAgainstNaiveCount(t *testing.T) {
	e := build(t, odd)
	nodes := append(exampleNodes(t), sampleNodes(t, e, 300)...)
	cases := readAll(t, e, nodes)
	k := coverage.NewCounter(e)
	for _, c := range cases {
		k.Add(c, date(c))
	}
	report := k.Report(time.Time{})
	if int(report.Cases) != len(cases) || len(report.Rules) != len(e.Ruleset.Order) {
		t.Fatalf("%d cases, %d rules; want %d, %d", report.Cases, len(report.Rules), len(cases), len(e.Ruleset.Order))
	}
	want := newNaive(t, e)
	var whole []string
	j := e.NewJudge()
	for _, c := range cases {
		whole = append(whole, told(j, c))
		want.add(t, c)
	}
	every := 5
	if testing.Short() {
		every = 20
	}
	if os.Getenv("WHYSTONE_REQUIRE_ALL") == "1" {
		every = 1
	}
	deciding := 0
	for i, got := range report.Rules {
		n := want.rules[got.ID]
		if got.Decided > 0 {
			deciding++
		}
		switch r := e.Ruleset.Rule(got.ID); {
		case r.Status != kb.Active || n.Held == 0:
		case i%every == 0 || strings.HasPrefix(r.ID, "odd-"):
			n.Decided = naiveDecided(t, j, r, nodes, cases, n.heldIn, whole)
		default:
			n.Decided = got.Decided
		}
		if got.Count != n.Count {
			t.Errorf("%s: counted %+v, want %+v", got.ID, got.Count, n.Count)
		}
		if len(got.Parts) != len(n.parts) {
			t.Errorf("%s: %d parts, want %d: %+v", got.ID, len(got.Parts), len(n.parts), got.Parts)
			continue
		}
		for k, p := range got.Parts {
			if p.PartCount != n.parts[k].PartCount {
				t.Errorf("%s: %s: counted %+v, want %+v", got.ID, p.Says, p.PartCount, n.parts[k].PartCount)
			}
		}
	}
	if deciding < len(report.Rules)/2 {
		t.Errorf("only %d of %d rules decide anything: the cases show too little", deciding, len(report.Rules))
	}
}

func sampleNodes(t *testing.T, e *engine.Engine, n int) (out []*syntax.Node) {
	t.Helper()
	in := archive.Input{Paths: []string{sample(t, e, n, 11)}}
	if err := archive.Each(t.Context(), in, func(r *archive.Raw) bool {
		var found diag.List
		if out = append(out, syntax.ParseJSON(diag.NewSource(r.Place(), []byte(r.Text)), &found)); found.HasErrors() {
			t.Fatal(found)
		}
		return true
	}); err != nil {
		t.Fatal(err)
	}
	return out
}

// naiveDecided counts the cases that come out otherwise without a rule, among those in which it held. All that is told
// without it must be what a judge tells that has it muted.
func naiveDecided(t *testing.T, muted *engine.Judge, r *kb.Rule, nodes []*syntax.Node, cases []*casefile.Case,
	heldIn []int, whole []string) (n int64) {
	t.Helper()
	e := build(t, odd, without(t, r))
	j := e.NewJudge()
	muted.Mute(r)
	defer muted.Mute(nil)
	for _, i := range heldIn {
		c := readAll(t, e, nodes[i:i+1])[0]
		if told(j, c) != whole[i] {
			n++
		}
		if d := cmp.Diff(output(j, c), output(muted, cases[i])); d != "" {
			t.Errorf("%s muted, case %s: %s", r.ID, c.ID, d)
		}
	}
	return n
}

func output(j *engine.Judge, c *casefile.Case) *engine.Output {
	o := j.Judge(c, engine.Moment{On: date(c), DatedBy: "clock"})
	o.Ruleset = ""
	return o
}

// without is a layer that takes a rule away. The facts of one that establishes some, with its condition, are left to a
// rule that never comes into force: they are what other rules rest on.
func without(tb testing.TB, r *kb.Rule) string {
	tb.Helper()
	if len(r.Establishes) == 0 {
		return fmt.Sprintf("format: 1\nretires: [{rule: %s, because: to see what changes}]\n", r.ID)
	}
	facts := map[string]any{}
	for _, e := range r.Establishes {
		switch e.Fact.Kind {
		case vocab.Truth:
			facts[e.Fact.Name] = true
		case vocab.Choice:
			facts[e.Fact.Name] = e.Fact.Words[e.Word]
		default:
			facts[e.Fact.Name] = map[string]string{"is": e.Reads.Text}
		}
	}
	rule := map[string]any{"rule": "silenced", "says": "nothing", "source": "a test",
		"since": "2999-01-01", "establishes": facts}
	if r.If != nil {
		rule["if"] = r.If.Text
	}
	if r.Unless != nil {
		rule["unless"] = r.Unless.Text
	}
	text, err := json.Marshal(map[string]any{"format": 1, "rules": []any{rule},
		"retires": []any{map[string]any{"rule": r.ID, "because": "to see what changes"}}})
	if err != nil {
		tb.Fatal(err)
	}
	return string(text)
}

// told is what a person is told of a case, in words.
func told(j *engine.Judge, c *casefile.Case) string {
	o := j.Judge(c, engine.Moment{On: date(c), DatedBy: "clock"})
	out := []string{"verdict " + o.Verdict, fmt.Sprint("nodes ", o.Nodes)}
	if o.Named != nil {
		out = append(out, "named "+*o.Named)
	}
	if o.Claim != nil {
		out = append(out, "claim "+o.Claim.Answer)
		if o.Claim.GroupAnswer != nil {
			out = append(out, "group "+*o.Claim.GroupAnswer)
		}
	}
	for _, x := range o.Excluded {
		out = append(out, "excluded "+x.Material)
	}
	for _, x := range o.Candidates {
		out = append(out, "candidate "+x.Material)
	}
	for _, a := range o.SetAside {
		out = append(out, "set aside "+a.Observable)
	}
	for kind, notes := range map[string][]engine.Note{"caution ": o.Cautions, "sent on ": o.SentOn} {
		for _, n := range notes {
			out = append(out, kind+n.Says)
		}
	}
	for kind, notes := range map[string][]engine.Note{"calls for ": o.CallsFor, "forbids ": o.Forbids} {
		for _, n := range notes {
			out = append(out, kind+*n.Test)
		}
	}
	for _, n := range o.Faults {
		out = append(out, "fault "+*n.Rule)
	}
	slices.Sort(out)
	return strings.Join(slices.Compact(out), "\n")
}
