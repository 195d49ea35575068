package proofread

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/load"
)

// pigeons are rules each of which establishes that no two of nine choices have the outcome of its number. There are six
// outcomes, so all of them can't be, which a search by cases does not find out in short time (Haken 1985, from memory).
func pigeons() string {
	var b strings.Builder
	for o := range 6 {
		var parts []string
		for i := range 9 {
			for j := range i {
				parts = append(parts, fmt.Sprintf(`not (choice_%d == "outcome %d" and choice_%d == "outcome %d")`, i, o,
					j, o))
			}
		}
		fmt.Fprintf(&b, "  - rule: at-most-one-%d\n    says: Invented.\n    source: invented\n    if: '%s'\n    "+
			"establishes: {apart_%d: true}\n", o, strings.Join(parts, " and "), o)
	}
	return b.String()
}

// nasty is a ruleset over the observables of the speed model.
func nasty(t *testing.T, text string) *kb.Ruleset {
	t.Helper()
	files := speedFiles(0)
	files["rules.yaml"] = &fstest.MapFile{Data: []byte(text)}
	return loaded(t, load.Layer{Name: "nasty", FS: files})
}

func notes(found []Finding) (out []string) {
	for _, f := range found {
		if f.Code == "not-analysed" {
			out = append(out, f.Summary)
		}
	}
	slices.Sort(out)
	return out
}

// TestTooMany: what takes too many combinations is noted, once for each rule and table, and what can be found is told.
func TestTooMany(t *testing.T) {
	rs := nasty(t, `format: 1
rules:
`+pigeons()+`
  - rule: hard
    says: Invented.
    source: invented
    if: apart_0 and apart_1 and apart_2 and apart_3 and apart_4 and apart_5 and choice_15 != "outcome 1"
    establishes: {differ: true}
  - rule: rests-on-it
    says: Invented.
    source: invented
    if: differ and quantity_0 > 2
    family: family-0
    supports: {materials: [group-1], ratio: 3}
  - rule: against-it
    says: Invented.
    source: invented
    if: differ and quantity_0 > 2
    family: family-0
    weakens: {materials: [group-1], ratio: 3}
  - rule: easy
    says: Invented.
    source: invented
    if: quantity_0 > 2 and quantity_0 < 1
    cautions: One.
tables:
  - table: hard-too
    says: Invented.
    source: invented
    columns: [differ]
    rows:
      - {row: yes-row, differ: true, cautions: a}
  - table: easy-one
    says: Invented.
    source: invented
    columns: [choice_0]
    rows:
      - {row: one, choice_0: outcome 0, cautions: b}
`)
	r := report(t, rs)
	want := []string{
		`not all can be found out about "against-it": there are too many combinations`,
		`not all can be found out about "hard": there are too many combinations`,
		`not all can be found out about "hard-too-yes-row": there are too many combinations`,
		`not all can be found out about "rests-on-it": there are too many combinations`,
	}
	if got := notes(r.Findings); !slices.Equal(got, want) {
		t.Errorf("noted is\n%s", strings.Join(got, "\n"))
	}
	for _, code := range []string{"never-holds", "table-gap"} {
		if !slices.ContainsFunc(r.Findings, func(f Finding) bool { return string(f.Code) == code }) {
			t.Errorf("no %s is told", code)
		}
	}
	for _, f := range r.Findings {
		if f.Code == "not-analysed" && (f.Severity != diag.Note || f.Span.IsZero() || f.Witness != nil) {
			t.Errorf("%s, %v", f.Error(), f.Witness)
		}
	}
}

// TestTooManyTogether: rules that are easy by themselves and hard together are noted with the pair.
func TestTooManyTogether(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	r := report(t, nasty(t, `format: 1
rules:
`+pigeons()+`
  - rule: a-half
    says: Invented.
    source: invented
    if: apart_0 and apart_1 and apart_2
    family: family-0
    supports: {materials: [group-1], ratio: 3}
  - rule: b-half
    says: Invented.
    source: invented
    if: apart_3 and apart_4 and apart_5
    family: family-0
    weakens: {materials: [group-1], ratio: 3}
`))
	want := []string{`not all can be found out about "b-half" beside "a-half": there are too many combinations`}
	if got := notes(r.Findings); !slices.Equal(got, want) {
		t.Errorf("noted is\n%s", strings.Join(got, "\n"))
	}
}

// TestDoubts: one note a rule, and none for a pair of which one is in doubt by itself.
func TestDoubts(t *testing.T) {
	rs := above(t, "")
	p := newPass(t.Context(), rs, on)
	a, b, c := rs.Rule("doubled-edges"), rs.Rule("over-the-limit"), rs.Rule("wet-stone")
	p.doubtful(tooMany) // of nothing
	for range 2 {
		p.asking(a)
		p.doubtful(notMade)
		p.asking(a, b)
		p.doubtful(tooMany)
		p.asking(c, b)
		p.doubtful(notMade)
		p.doubtful("")
		p.asking(b, c)
		p.doubtful(notMade)
	}
	doubts(p)
	want := []string{`not all can be found out about "doubled-edges": no case that can be written down shows it`,
		`not all can be found out about "wet-stone" beside "over-the-limit": no case that can be written down shows it`}
	if got := notes(p.found); !slices.Equal(got, want) {
		t.Errorf("noted is\n%s", strings.Join(got, "\n"))
	}
}
