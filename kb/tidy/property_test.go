package tidy

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"go.yaml.in/yaml/v4"

	"whystone/kb/diag"
	"whystone/kb/syntax"
)

type tester interface {
	Helper()
	Fatalf(format string, args ...any)
}

// check tries everything that is promised of any text, and returns its tidy form, nil if the text is refused.
func check(t tester, text []byte) []byte {
	t.Helper()
	original := bytes.Clone(text)
	out, edits, found := File(diag.NewSource("f", text))
	if !bytes.Equal(text, original) {
		t.Fatalf("the source was written to: %q", original)
	}
	var wrong diag.List
	syntax.ParseYAML(diag.NewSource("f", text), &wrong)
	if found.HasErrors() || out == nil {
		if out != nil || edits != nil || !wrong.HasErrors() || found.Error() != wrong.Error() {
			t.Fatalf("refused %q with %d bytes, %d edits, %v; parsing says %v", text, len(out), len(edits), found,
				wrong)
		}
		return nil
	}
	checkEdits(t, text, out, edits)
	if a, b := bare(text), bare(out); a != b {
		t.Fatalf("more than white space was changed:\n%q\n%q", a, b)
	}
	if a, b := said(t, text), said(t, out); a != b {
		t.Fatalf("%q\nsaid %s\nbut %q\nsays %s", text, a, out, b)
	}
	if again, more, _ := File(diag.NewSource("f", out)); len(more) > 0 {
		t.Fatalf("not tidy the first time: %q\nbecame %q\nand then %q: %+v", text, out, again, more)
	}
	checkForm(t, out)
	return out
}

func checkEdits(t tester, text, out []byte, edits []Edit) {
	t.Helper()
	at, built := 0, ""
	for _, e := range edits {
		if e.Start < at || e.End < e.Start || e.End > len(text) || e.Says == "" ||
			string(text[e.Start:e.End]) == e.With {
			t.Fatalf("the edit %+v of %q comes after %d", e, text, at)
		}
		built += string(text[at:e.Start]) + e.With
		at = e.End
	}
	if built += string(text[at:]); built != string(out) {
		t.Fatalf("the edits of %q make %q, not %q", text, built, out)
	}
}

// bare is a text without white space and byte order mark, which is all that may be changed: words, quotes, signs and
// comments must be there in their order.
func bare(text []byte) string {
	return strings.NewReplacer(" ", "", "\t", "", "\n", "", "\r", "", "\uFEFF", "").Replace(string(text))
}

// said is what the YAML library makes of a text: every node's kind, tag, style and value, in order.
func said(t tester, text []byte) string {
	t.Helper()
	var b strings.Builder
	var write func(n *yaml.Node)
	write = func(n *yaml.Node) {
		fmt.Fprintf(&b, "(%d %s %d %q", n.Kind, n.ShortTag(), n.Style, n.Value)
		for _, c := range n.Content {
			write(c)
		}
		b.WriteString(")")
	}
	d := yaml.NewDecoder(bytes.NewReader(text))
	for {
		var n yaml.Node
		switch err := d.Decode(&n); {
		case errors.Is(err, io.EOF):
			return b.String()
		case err != nil:
			t.Fatalf("%q is not read: %v", text, err)
		}
		write(&n)
	}
}

// checkForm checks what holds of every tidy text, whatever is in it.
func checkForm(t tester, out []byte) {
	t.Helper()
	text := string(out)
	switch {
	case strings.Contains(text, "\r"), strings.HasPrefix(text, "\uFEFF"), strings.HasPrefix(text, "\n"):
		t.Fatalf("the line ends or the start of %q", text)
	case strings.ContainsAny(text, "|>"): // lines of block texts may end as they like
		return
	case text != "" && !strings.HasSuffix(text, "\n"), strings.HasSuffix(text, "\n\n"):
		t.Fatalf("the end of %q", text)
	}
	for line := range strings.Lines(text) {
		line = strings.TrimSuffix(line, "\n")
		if strings.HasPrefix(line, "\t") || strings.TrimRight(line, " \t") != line && !strings.Contains(line, `\`) {
			t.Fatalf("the line %q of %q", line, text)
		}
		indented := len(line) - len(strings.TrimLeft(line, " "))
		if indented%step != 0 {
			t.Fatalf("the indentation of %q in %q", line, text)
		}
	}
}

// yamlFiles lists the YAML files below some folders.
func yamlFiles(t testing.TB, roots ...string) []string {
	t.Helper()
	var names []string
	for _, root := range roots {
		err := filepath.WalkDir(root, func(p string, d fs.DirEntry, err error) error {
			if err == nil && !d.IsDir() && filepath.Ext(p) == ".yaml" {
				names = append(names, p)
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if len(names) < 30 {
		t.Fatalf("only %d files", len(names))
	}
	return names
}

func TestFilesOfTheRepository(t *testing.T) {
	read := 0
	for _, name := range yamlFiles(t, "../../rulesets", "../../testdata", "..") {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if check(t, text) != nil {
			read++
		}
	}
	if read < 40 {
		t.Errorf("only %d files are read", read)
	}
}
