package tidy

import (
	"context"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"whystone/kb/load"
)

// upset is a shipped file as a careless hand could leave it, saying the same.
func upset(text string) string {
	text = strings.ReplaceAll(text, "- {", "- {  ")
	text = strings.ReplaceAll(text, "\n\n  - ", "\n\n \n  - ")
	var b strings.Builder
	b.WriteString("\uFEFF\n")
	for line := range strings.Lines(text) {
		if strings.TrimSpace(line) != "" {
			b.WriteString("   ")
		}
		b.WriteString(strings.TrimSuffix(line, "\n") + "\r\n")
	}
	return b.String()
}

// The digest of the shipped ruleset is that of its tidy form, and that of its upset form tidied, which is the same
// text.
func TestDigestStays(t *testing.T) {
	const root = "../../rulesets/diamond-desk"
	shipped, tidied, upsetTidied := fstest.MapFS{}, fstest.MapFS{}, fstest.MapFS{}
	for _, name := range yamlFiles(t, root) {
		rel, err := filepath.Rel(root, name)
		if err != nil {
			t.Fatal(err)
		}
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		out, again := check(t, text), check(t, []byte(upset(string(text))))
		if string(out) != string(again) {
			t.Errorf("%s upset becomes\n%s", name, again)
		}
		path := filepath.ToSlash(rel)
		shipped[path] = &fstest.MapFile{Data: text}
		tidied[path] = &fstest.MapFile{Data: out}
		upsetTidied[path] = &fstest.MapFile{Data: again}
	}
	want := digest(t, shipped)
	if got := digest(t, tidied); got != want {
		t.Errorf("tidied: %s, want %s", got, want)
	}
	if got := digest(t, upsetTidied); got != want {
		t.Errorf("upset and tidied: %s, want %s", got, want)
	}
}

func digest(t *testing.T, files fs.FS) string {
	t.Helper()
	rs, found := load.Load(context.Background(), []load.Layer{{Name: "desk", FS: files}})
	if rs == nil {
		t.Fatal(found)
	}
	return rs.Digest
}
