package tidy

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/rogpeppe/go-internal/txtar"

	"whystone/kb/diag"
	"whystone/kb/syntax"
)

// Each file of testdata holds pairs: a text, and after it the same as it comes out. WHYSTONE_UPDATE=1 writes what comes
// out; read it then.
func TestGolden(t *testing.T) {
	names, err := filepath.Glob("testdata/*.txtar")
	if err != nil || len(names) < 6 {
		t.Fatalf("%d files, %v", len(names), err)
	}
	for _, name := range names {
		t.Run(strings.TrimSuffix(filepath.Base(name), ".txtar"), func(t *testing.T) { golden(t, name) })
	}
}

func golden(t *testing.T, name string) {
	a, err := txtar.ParseFile(name)
	if err != nil {
		t.Fatal(err)
	}
	updated := &txtar.Archive{Comment: a.Comment}
	want := map[string]string{}
	for _, f := range a.Files {
		want[f.Name] = string(f.Data)
	}
	for _, f := range a.Files {
		if strings.HasSuffix(f.Name, " tidy") {
			continue
		}
		out := check(t, f.Data)
		if out == nil {
			t.Fatalf("%s is refused", f.Name)
		}
		if d := cmp.Diff(want[f.Name+" tidy"], string(out)); d != "" && os.Getenv("WHYSTONE_UPDATE") != "1" {
			t.Errorf("%s (- wanted, + came out):\n%s", f.Name, d)
		}
		updated.Files = append(updated.Files, f, txtar.File{Name: f.Name + " tidy", Data: out})
	}
	if os.Getenv("WHYSTONE_UPDATE") == "1" {
		if err := os.WriteFile(name, txtar.Format(updated), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// What a golden file can't show: line ends, a byte order mark, blanks at line ends, files that end without a line end.
func TestSmallTexts(t *testing.T) {
	for name, tt := range map[string]struct{ text, want string }{
		"nothing":                            {"", ""},
		"blank lines alone":                  {" \n\n\t\n", ""},
		"no line end":                        {"a: 1", "a: 1\n"},
		"blank lines at the ends":            {"\n\n  \na: 1\n\n \n", "a: 1\n"},
		"CRLF and CR":                        {"a: 1\r\nb: 2\r# c\r\n", "a: 1\nb: 2\n# c\n"},
		"byte order mark":                    {"\uFEFF# c\na: 1\n", "# c\na: 1\n"},
		"byte order mark alone":              {"\uFEFF", ""},
		"blanks at line ends":                {"a: 1 \t\n# c \nb:  \n", "a: 1\n# c\nb:\n"},
		"CRLF in a block text":               {"a: |\r\n  x\r\n\r\n  y\r\n", "a: |\n  x\n\n  y\n"},
		"blanks in a block text":             {"a: |\n  x \n   \n  \n  y\t\n", "a: |\n  x \n   \n\n  y\t\n"},
		"blanks after a block text":          {"a: |\n  x\n  \n \nb: 1\n", "a: |\n  x\n\nb: 1\n"},
		"lines that a block text keeps":      {"a: |+\n  x\n\n \n\nb: |+\n\n\n", "a: |+\n  x\n\n\n\nb: |+\n\n\n"},
		"a block text ends without line end": {"a: |\n   x", "a: |\n  x"},
		"|- ends without line end":           {"a: |-\n  x", "a: |-\n  x\n"},
		"|+ ends without line end":           {"a: |+\n  x", "a: |+\n  x"},
		"a block text ends with spaces":      {"a: |\n  x\n ", "a: |\n  x\n"},
		"|+ ends with spaces":                {"a: |+\n  x\n ", "a: |+\n  x\n\n"},
		"a tab before a value":               {"a:\tb\nc: \t d\n", "a: b\nc: d\n"},
		"a tab before a comment":             {"a: b\t# c\n", "a: b  # c\n"},
		"tabs in a quoted text":              {"a: 'b \t\n\t c\td'\n", "a: 'b\n  c\td'\n"},
		"an escaped blank at a line end": {"a: \"b\\  \n c\\\n  d\\\\ \n e\"\n",
			"a: \"b\\ \n  c\\\n  d\\\\\n  e\"\n"},
		"what would be a document mark":  {" --- a: 1\n # c\n b: 2\n", "  --- a: 1\n  # c\n  b: 2\n"},
		"a text like a document mark":    {" ...\n", "  ...\n"},
		"a text of two lines at the top": {"a text\nof two\n --- lines\n", "a text\n  of two\n  --- lines\n"},
		"no blank line into a kept text": {"rules:\n- rule: |+\n   a\n- rule: b\n",
			"rules:\n  - rule: |+\n      a\n  - rule: b\n"},
		"spaces that end a text at the top": {"| \n   \n  # c\n", "|\n   \n# c\n"},
	} {
		if got := check(t, []byte(tt.text)); string(got) != tt.want {
			t.Errorf("%s: %q becomes %q, want %q", name, tt.text, got, tt.want)
		}
	}
}

func TestEditsSayWhat(t *testing.T) {
	text := "\uFEFF\n a:   1 \r\n\n\n #b\n c: 2"
	_, edits, _ := File(diag.NewSource("f", []byte(text)))
	var got []string
	for _, e := range edits {
		got = append(got, e.Says)
	}
	want := []string{byteOrderMark, blankLines, indentation, spacing, lineBlanks, lineEnds, blankLines, indentation,
		commentSign, indentation, lineEnds}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

// A text with errors is left alone, and what is wrong with it is what the parser says.
func TestRefused(t *testing.T) {
	for text, code := range map[string]string{"a: [1\n": "bad-syntax", "a: 1\na:  2\n": "duplicate-key",
		"a: &x 1\n": "alias-refused", "a:\n\tb: 1\n": "bad-syntax", "? a\n": "not-allowed",
		"a: \xff\n": "bad-encoding"} {
		out, edits, found := File(diag.NewSource("f", []byte(text)))
		if out != nil || edits != nil || len(found) == 0 || string(found[0].Code) != code {
			t.Errorf("%q: %q, %v, %v", text, out, edits, found)
		}
	}
}

// The comparison that guards a file sees each way in which the result could differ from it.
func TestGuard(t *testing.T) {
	src := diag.NewSource("f", []byte("a: b # c\nd: ['e', 1]\n"))
	var found diag.List
	before := syntax.ParseYAML(src, &found)
	tokens, ok := tokenise(src, before)
	if !ok || len(found) > 0 || !same(src, before, tokens, []byte("a:  b  #   c\nd:\n  - 'e'\n  - 1\n"), &found) {
		t.Fatalf("%t, %v", ok, found)
	}
	for name, tt := range map[string]struct{ out, code string }{
		"a text":            {"a: x # c\nd: ['e', 1]\n", "tidy-failed"},
		"quotes":            {"a: b # c\nd: [\"e\", 1]\n", "tidy-failed"},
		"a key":             {"x: b # c\nd: ['e', 1]\n", "tidy-failed"},
		"the order":         {"d: ['e', 1]\na: b # c\n", "tidy-failed"},
		"one item less":     {"a: b # c\nd: ['e']\n", "tidy-failed"},
		"another kind":      {"a: b # c\nd: {e: 1}\n", "tidy-failed"},
		"a document more":   {"a: b # c\nd: ['e', 1]\n---\n", "tidy-failed"},
		"a comment":         {"a: b # d\nd: ['e', 1]\n", "tidy-failed"},
		"no comment":        {"a: b\nd: ['e', 1]\n", "tidy-failed"},
		"what is no YAML":   {"a: b # c\nd: ['e', 1\n", "tidy-failed"},
		"more than is read": {"# c\n" + strings.Repeat(" ", syntax.MaxBytes), "too-long"},
	} {
		var found diag.List
		if same(src, before, tokens, []byte(tt.out), &found) || len(found) != 1 || string(found[0].Code) != tt.code ||
			!diag.Known(diag.Code(tt.code)) {
			t.Errorf("%s: %v", name, found)
		}
	}
}
