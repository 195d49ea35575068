package casefile

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"

	"whystone/kb/diag"
	"whystone/kb/internal/emit"
	"whystone/kb/syntax"
)

// FuzzRead: whatever the text, reading it as YAML and as JSON ends in cases or in refusals that lie in the text, the
// same each time; and a case that was read is the same case when it is written down in the other format.
func FuzzRead(f *testing.F) {
	demo, err := filepath.Glob("../../testdata/demo/*.yaml")
	if err != nil {
		f.Fatal(err)
	}
	for _, name := range append(demo, "testdata/refused.yaml") {
		text, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		for _, part := range bytes.Split(text, []byte("\n---\n")) {
			f.Add(part)
		}
	}
	f.Add([]byte(wholeCase))
	f.Add([]byte(`{"case": "A-1", "stone": {"colour": "red"}, "readings": {"ri": [{"value": 1.5, "at": "2031-04-12"}, {"above": 1.4}], "inclusions": ["feather"]}}`))
	f.Add([]byte("case: \"\\ud83d\"\nreadings: {ri: {between: [1e308, -1e308]}}"))
	rd := bench(f)
	f.Fuzz(func(t *testing.T, text []byte) {
		checkFormat := func(parse func(*diag.Source, *diag.List) []*syntax.Node, write func(*syntax.Node) string,
			otherParse func(*diag.Source, *diag.List) []*syntax.Node) {
			var out, again diag.List
			src := diag.NewSource("case", text)
			for _, n := range parse(src, &out) {
				c := rd.Read(n, &out)
				if c != nil && !out.HasErrors() {
					written := write(n)
					var refused diag.List
					docs := otherParse(diag.NewSource("other", []byte(written)), &refused)
					if len(docs) != 1 {
						t.Fatalf("%s\n%v", written, refused)
					}
					if d := cmp.Diff(c, rd.Read(docs[0], &refused), sameCase...); d != "" {
						t.Fatalf("%s\n%v\n%s", written, refused, d)
					}
				}
			}
			for _, n := range parse(src, &again) {
				rd.Read(n, &again)
			}
			checkList(t, text, out, again)
		}
		checkFormat(syntax.ParseYAML, emit.JSON, oneJSON)
		checkFormat(oneJSON, syntax.WriteLine, syntax.ParseYAML)
	})
}

func oneJSON(src *diag.Source, out *diag.List) []*syntax.Node {
	if n := syntax.ParseJSON(src, out); n != nil {
		return []*syntax.Node{n}
	}
	return nil
}

func checkList(t *testing.T, text []byte, out, again diag.List) {
	t.Helper()
	if out.Error() != again.Error() {
		t.Fatalf("read twice:\n%s\n\n%s", out.Error(), again.Error())
	}
	for _, d := range out {
		if d.Span.Start < 0 || d.Span.End < d.Span.Start || d.Span.End > len(text) || d.Span.IsZero() {
			t.Fatalf("%s lies at %d-%d of %d", d.Code, d.Span.Start, d.Span.End, len(text))
		}
		if !diag.Known(d.Code) || d.Summary == "" {
			t.Fatalf("the code %q with %q", d.Code, d.Summary)
		}
		// JSON's errors are of bytes
		if d.Code != "bad-syntax" && utf8.Valid(text) && !utf8.ValidString(d.Span.Text()) {
			t.Fatalf("%s cuts a letter: %q", d.Code, d.Span.Text())
		}
	}
}
