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
)

// TestReadFilesTakesWhatCanBeRulesOnly: a pipe is not waited for, one too large is refused by name, and what editors
// leave behind is passed over.
func TestReadFilesTakesWhatCanBeRulesOnly(t *testing.T) {
	dir := t.TempDir()
	for name, text := range map[string]string{"a.yaml": "format: 1\n", ".hidden.yaml": "x", "#a.yaml": "x", "a.yaml~": "x", "notes.txt": "x"} {
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
	if len(out) != 0 {
		t.Errorf("%v", out)
	}
	if err := os.WriteFile(filepath.Join(dir, "large.yaml"), make([]byte, load.MaxFileBytes+1), 0o600); err != nil {
		t.Fatal(err)
	}
	var wrong diag.List
	load.ReadFiles(context.Background(), []load.Layer{{Name: "a.yaml", FS: os.DirFS(filepath.Join(dir, "a.yaml"))}}, &wrong)
	if len(wrong) != 1 || !strings.Contains(wrong[0].Summary, "it is a file, and a layer is the folder") {
		t.Errorf("a file for a folder: %v", wrong)
	}
	load.ReadFiles(context.Background(), []load.Layer{{Name: "house", FS: os.DirFS(dir)}}, &out)
	if len(out) != 1 || !strings.Contains(out[0].Summary, "large.yaml is longer than the 4 MiB") {
		t.Errorf("%v", out)
	}
}
