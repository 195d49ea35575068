package emit

import (
	"slices"
	"testing"

	"whystone/kb/diag"
	"whystone/kb/syntax"
)

// TestJSON: what is written is read back as the same, and can be told from what looks like it.
func TestJSON(t *testing.T) {
	var out diag.List
	text := `{a: 1.50, "b": "1.50", c: [true, "true", null, ~, no way, "é\"\\\n\U0001F48E", {f: 1, g: 2031-04-12}], "yes": diamond range}`
	n := syntax.ParseYAML(diag.NewSource("f", []byte(text)), &out)[0]
	want := `{"a": 1.50, "b": "1.50", "c": [true, "true", null, null, "no way", "é\"\\\n💎", {"f": 1, "g": "2031-04-12"}], "yes": "diamond range"}`
	got := JSON(n)
	if got != want || len(out) > 0 {
		t.Errorf("%s\nwant %s\n%v", got, want, out)
	}
	if back := syntax.ParseJSON(diag.NewSource("f", []byte(got)), &out); JSON(back) != want {
		t.Errorf("it is read back as %s", JSON(back))
	}
	turned := Reordered(n, func(e []syntax.Entry) []syntax.Entry {
		e = slices.Clone(e)
		slices.Reverse(e)
		return e
	})
	want = `{"yes": "diamond range", "c": [true, "true", null, null, "no way", "é\"\\\n💎", {"g": "2031-04-12", "f": 1}], "b": "1.50", "a": 1.50}`
	if got := JSON(turned); got != want {
		t.Errorf("turned: %s\nwant %s", got, want)
	}
}
