//go:build unix

package load_test

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"whystone/kb/diag"
	"whystone/kb/load"
	"whystone/kb/load/loadtest"
)

// TestReadFilesTakesWhatCanBeRulesOnly: a pipe is told and not waited for, one too large is refused by name, and what
// editors leave behind is passed over.
func TestReadFilesTakesWhatCanBeRulesOnly(t *testing.T) {
	dir := t.TempDir()
	for name, text := range map[string]string{"a.yaml": "format: 1\n", ".hidden.yaml": "x", "#a.yaml": "x",
		"a.yaml~": "x", "notes.txt": "x"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := syscall.Mkfifo(filepath.Join(dir, "pipe.yaml"), 0o600); err != nil {
		t.Fatal(err)
	}
	var out diag.List
	files := load.ReadFiles(context.Background(), []load.Layer{{Name: "house", FS: os.DirFS(dir)}}, &out)
	if len(files) != 1 || files[0].Path != "a.yaml" {
		t.Errorf("read %v", files)
	}
	if len(out) != 1 || !strings.Contains(out[0].Summary, "house/pipe.yaml is no ordinary file") {
		t.Errorf("a pipe in the place of a file: %v", out)
	}
	if err := os.WriteFile(filepath.Join(dir, "large.yaml"), make([]byte, load.MaxFileBytes+1), 0o600); err != nil {
		t.Fatal(err)
	}
	var wrong diag.List
	load.ReadFiles(context.Background(), []load.Layer{{Name: "a.yaml", FS: os.DirFS(filepath.Join(dir, "a.yaml"))}},
		&wrong)
	if len(wrong) != 1 || !strings.Contains(wrong[0].Summary, "it is a file, and a layer is the folder") {
		t.Errorf("a file for a folder: %v", wrong)
	}
	load.ReadFiles(context.Background(), []load.Layer{{Name: "house", FS: os.DirFS(dir)}}, &out)
	if !strings.Contains(out.Error(), "large.yaml is longer than the 4 MiB") {
		t.Errorf("%v", out)
	}
}

// TestFilesThatSayNothing: a file that was emptied, one that is not read though it was meant to be, and a folder in the
// place of a file are told; what is like them and sound is not.
func TestFilesThatSayNothing(t *testing.T) {
	const sheets = "format: 1\nrules: [{rule: a, says: x, cautions: x}]\n"
	for name, wrong := range map[string]struct{ text, says string }{
		"a.yaml":         {"", "empty-file"},
		"b.yaml":         {" \n\n", "empty-file"},
		"c.yaml":         {"format: 1\n", "empty-file"},
		"d.yaml":         {"format: 1\nrules: []\n", "empty-file"},
		"e.yaml":         {"format: 1\nrules:\n", "empty-file"},
		"f.yaml":         {"# nothing as yet\n", ""},
		"g.yaml":         {"format: 1\nrules: [{rule: b, says: x, cautions: x}]\n---\n", ""},
		"h.yaml.txt":     {sheets, "unused-file"},
		"i.json":         {`{"format": 1, "rules": []}`, "unused-file"},
		"j.ymal":         {sheets, "unused-file"},
		"k.yam":          {sheets, "unused-file"},
		"l.yml.TXT":      {"policy: {misfit: 5}\n", "unused-file"},
		"cases.json":     {`{"format": 1, "case": "A", "readings": {}}`, ""},
		"notes.txt":      {"rules: be kind\n", ""},
		"m.yaml.bak":     {sheets, ""},
		"n.json":         {"[1, 2]", ""},
		"o.YAML":         {"format: 1\nrules: [{rule: c, says: x, cautions: x}]\n", ""},
		"p.yaml/q.yaml":  {sheets, "file-unreadable"},
		"r.csv/readme":   {"x", "file-unreadable"},
		"s.json.d/rules": {"rules: []", ""},
	} {
		t.Run(name, func(t *testing.T) {
			_, out := loadtest.House(t, map[string]string{"own.yaml": "format: 1\npolicy: {misfit: 5}\n",
				name: wrong.text})
			switch {
			case wrong.says == "" && len(out) > 0:
				t.Error(out.Error())
			case wrong.says != "" && (len(out) != 1 || string(out[0].Code) != wrong.says || out[0].Detail == ""):
				t.Errorf("want %s, got %v", wrong.says, out)
			}
		})
	}
}
