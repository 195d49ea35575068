//go:build unix

package kb

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"whystone/kb/diag"
)

// TestReadFilesTakesWhatCanBeRulesOnly: a pipe is not waited for, a file too large is refused by name, and what editors
// leave behind is passed over.
func TestReadFilesTakesWhatCanBeRulesOnly(t *testing.T) {
	dir := t.TempDir()
	for name, text := range map[string]string{"a.yaml": "format: 1\n", ".hidden.yaml": "x", "#a.yaml": "x", "a.yaml~": "x", "notes.txt": "x",
		"large.yaml": strings.Repeat(" ", MaxFileBytes+1)} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := syscall.Mkfifo(filepath.Join(dir, "pipe.yaml"), 0o600); err != nil {
		t.Fatal(err)
	}
	var out diag.List
	files := ReadFiles(context.Background(), []Layer{{Name: "house", FS: os.DirFS(dir)}}, &out)
	if len(files) != 1 || files[0].Path != "a.yaml" {
		t.Errorf("read %v", files)
	}
	if len(out) != 1 || out[0].Code != "too-long" || !strings.Contains(out[0].Summary, "house/large.yaml") {
		t.Errorf("%v", out)
	}
}
