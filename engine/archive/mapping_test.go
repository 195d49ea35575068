package archive

import (
	"bytes"
	"encoding/json"
	"fmt"
	"regexp"
	"testing"

	"whystone/kb/diag"
)

// TestTargets: a column gives what a case has, written with all its parts and no more, or the mapping is refused where
// the target stands.
func TestTargets(t *testing.T) {
	v := ruleset(t).Vocabulary
	for to, want := range map[string]string{"case": "ok", "stone": "ok", "stone.carat": "ok", "readings.ri": "ok",
		"readings.Specific Gravity": "ok", "recorded.verdict": "ok", "correlations": "ok",
		"klaim": "claim", "stone.carrat": "stone.carat", "reading.ri": "readings.ri", "readings.ri.low": "readings.ri",
		"stone.carat.x": "stone.carat", "recorded.verdikt": "recorded.verdict", "carat": "stone.carat",
		"ri": "readings.ri", "readings.zzzzzzzz": "", "case.x": "", "readings.": "", "stone.": "", ".": ""} {
		for _, text := range []string{"%q", "{to: %q}"} {
			var l diag.List
			m := ReadMapping(diag.NewSource("map.yaml", fmt.Appendf(nil, "format: 1\nmapping: {columns: {c: "+text+"}}",
				to)), v, &l)
			switch {
			case want == "ok" && m == nil:
				t.Errorf("%s is refused: %v", to, l)
			case want != "ok" && (m != nil || len(l) != 1 || l[0].Nearest != want || l[0].Span.Text() != fmt.Sprintf("%q", to) ||
				l[0].Detail == ""):
				t.Errorf("%s: %v, want the nearest %q", to, l, want)
			}
		}
	}
}

// FuzzMapping: a mapping is understood or refused with a reason; one that is makes a number of a cell, or leaves it, or
// says why not.
func FuzzMapping(f *testing.F) {
	f.Add("format: 1\nmapping: {delimiter: \";\", decimal_comma: true, columns: {\"No\": case, w: {to: stone.carat, "+
		"factor: 5, words: {x: \"1\"}}}}", "1.250,5")
	f.Add("format: 1\nmapping: {columns: {a: {to: case, offset: -1e300, factor: 1e308}}}", "9e9")
	number := regexp.MustCompile(`^-?[0-9.e+-]+$`)
	v := ruleset(f).Vocabulary
	f.Fuzz(func(t *testing.T, text, cell string) {
		var l diag.List
		m := ReadMapping(diag.NewSource("map.yaml", []byte(text)), v, &l)
		if (m == nil) != l.HasErrors() {
			t.Fatalf("mapping %v, found %v", m, l)
		}
		if m == nil {
			return
		}
		var a, b bytes.Buffer
		m.Hash(&a)
		m.Hash(&b)
		if !bytes.Equal(a.Bytes(), b.Bytes()) || a.Len() == 0 {
			t.Fatal("it is not known again")
		}
		for _, c := range m.Columns {
			got, err := c.apply(cell, false)
			if _, word := c.Words[cell]; word || err != nil {
				continue
			}
			if got != cell && (!number.MatchString(got) || !json.Valid([]byte(got)) && c.Factor != 1) {
				t.Fatalf("%q became %q by %+v", cell, got, c)
			}
		}
	})
}
