package archive

import (
	"bytes"
	"encoding/json"
	"regexp"
	"testing"

	"whystone/kb/diag"
)

// FuzzMapping: a mapping is understood or refused with a reason; one that is makes a number of a cell, or leaves it, or
// says why not.
func FuzzMapping(f *testing.F) {
	f.Add("format: 1\nmapping: {delimiter: \";\", decimal_comma: true, columns: {\"No\": case, w: {to: stone.carat, "+
		"factor: 5, words: {x: \"1\"}}}}", "1.250,5")
	f.Add("format: 1\nmapping: {columns: {a: {to: case, offset: -1e300, factor: 1e308}}}", "9e9")
	number := regexp.MustCompile(`^-?[0-9.e+-]+$`)
	f.Fuzz(func(t *testing.T, text, cell string) {
		var l diag.List
		m := ReadMapping(diag.NewSource("map.yaml", []byte(text)), &l)
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
