package intake

import (
	"strings"
	"testing"

	"whystone/kb/diag"
)

// FuzzIntake gives any text in any form. It never panics; every item is a case or says why not, with places inside a
// text that has them; and a good case before and after it, on lines of their own or in documents of their own, is read.
func FuzzIntake(f *testing.F) {
	for _, seed := range []string{
		"", "case: A\nreadings: {thermal_probe: diamond range}\n", `{"case": "A", "readings": {"ri": [1.54, 1.55]}}`,
		"[{\"case\": \"A\"}, 7]", "{\"case\": \"A\"\n{\"case\": \"B\"}", "---\n...\n---\ncase: [",
		"case: |\n  ---\nnote: >\n  x", "\uFEFF{", "\xff", "case: A\r---\rcase: B", "readings: {ri: {value: 1e400}}",
		"? a\n: b", "&a case: *a", "{\"case\": \"\\ud800\"}", "'", "\"", "[[[[", "%YAML 1.2\n---\n",
		"case: A\nreadings: {specific_gravity: [{value: 3.5}, {value: 4}]}\nstone: {mounted: true, colour: red}\n",
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for _, name := range []string{"x.yaml", "x.json", "x.jsonl", "x"} {
			for _, it := range readAll(t, name, text) {
				checkItem(t, name, it)
			}
		}
		line := strings.NewReplacer("\n", " ", "\r", " ").Replace(text)
		between(t, "x.jsonl", `{"case": "GOOD-1"}`+"\n"+line+"\n"+`{"case": "GOOD-2"}`)
		between(t, "x.yaml", "case: GOOD-1\n---\n"+text+"\n---\ncase: GOOD-2\n")
	})
}

func checkItem(t *testing.T, name string, it Item) {
	t.Helper()
	if (it.Case == nil) != it.Found.HasErrors() {
		t.Fatalf("%s: case %v, but found %v", name, it.Case, it.Found)
	}
	for _, d := range it.Found {
		if !diag.Known(d.Code) {
			t.Fatalf("%s: the code %q is in no table", name, d.Code)
		}
		if sp := d.Span; !sp.IsZero() && (sp.Start < 0 || sp.End < sp.Start || sp.End > len(sp.Source.Text)) {
			t.Fatalf("%s: the place %d to %d lies outside the text of %d bytes", name, sp.Start, sp.End,
				len(sp.Source.Text))
		}
	}
}

func between(t *testing.T, name, text string) {
	t.Helper()
	items := readAll(t, name, text)
	first, last := items[0], items[len(items)-1]
	if first.ID != "GOOD-1" || first.Case == nil || last.ID != "GOOD-2" || last.Case == nil {
		t.Fatalf("%s: the good cases around were not both read: %s", name, summary(items))
	}
}
