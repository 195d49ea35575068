package proofread

import (
	"testing"
	"time"

	"whystone/kb"
	"whystone/kb/diag"
)

// TestFindingAsJSON: the fields of a diagnostic come first, on one level with the others, which are there even if
// empty.
func TestFindingAsJSON(t *testing.T) {
	src := diag.NewSource("r.yaml", []byte("if: ri > 1 & x"))
	d := diag.Diagnostic{Code: neverHolds, Severity: diag.Warning, Summary: "a < b",
		Span: diag.Span{Source: src, Start: 4, End: 6}}
	const head = `{"code":"never-holds","severity":"warning","summary":"a < b","file":"r.yaml","line":1,"column":5,"length":2,` +
		`"byte_offset":4,"byte_length":2,"utf16_column":5,"utf16_length":2,"sheets":[{"kind":"rule","id":"r"}],`
	for want, f := range map[string]Finding{
		head + `"witness":null,"accepted":null}`: {},
		head + `"witness":{"case":"ri: 1\n","says":["ri 1 & so on"]},"accepted":{"because":"x","until":"2031-04-12"}}`: {
			Witness:  &Witness{ID: "w", Text: "ri: 1\n", Says: []string{"ri 1 & so on"}},
			Accepted: &kb.Acceptance{Because: "x", Until: time.Date(2031, 4, 12, 0, 0, 0, 0, time.UTC)}},
	} {
		f.Diagnostic, f.Sheets = d, []Sheet{{"rule", "r"}}
		got, err := f.MarshalJSON()
		if err != nil || string(got) != want {
			t.Errorf("%s\nwant %s\n%v", got, want, err)
		}
	}
}
