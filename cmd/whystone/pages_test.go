package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// session is a fenced block of a page: commands after "$ ", each followed by what it prints.
var pageSession = regexp.MustCompile("(?s)```console\n(.*?)```")

// TestPages runs every command that the README and the pages of help show, and compares what it prints.
// WHYSTONE_UPDATE=1 writes it anew.
func TestPages(t *testing.T) {
	pages, err := filepath.Glob(filepath.Join("topics", "*.md"))
	if err != nil || len(pages) == 0 {
		t.Fatal("no pages of help", err)
	}
	for _, path := range append(pages, filepath.Join("..", "..", "README.md")) {
		t.Run(filepath.Base(path), func(t *testing.T) { comparePage(t, path) })
	}
}

func comparePage(t *testing.T, path string) {
	old, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	files := t.TempDir() // what "> file" writes
	fresh := pageSession.ReplaceAllStringFunc(string(old), func(block string) string {
		var out strings.Builder
		out.WriteString("```console\n")
		for line := range strings.Lines(pageSession.FindStringSubmatch(block)[1]) {
			if command, ok := strings.CutPrefix(line, "$ "); ok {
				out.WriteString(line + pageCommand(t, strings.TrimSpace(command), files))
			}
		}
		return out.String() + "```"
	})
	if fresh == string(old) {
		return
	}
	if *update || os.Getenv("WHYSTONE_UPDATE") == "1" {
		if err := os.WriteFile(path, []byte(fresh), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	a, b := strings.Split(string(old), "\n"), strings.Split(fresh, "\n")
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] {
			t.Fatalf("%s:%d shows\n%s\nwhere the command prints\n%s\nRun with WHYSTONE_UPDATE=1 and read what it wrote.", path, i+1, a[i], b[i])
		}
	}
	t.Fatalf("%s shows more or less than its commands print", path)
}

// pageCommand runs a command in the repository's folder, at 80 columns, and returns what a person would see.
func pageCommand(t *testing.T, command, files string) string {
	t.Helper()
	root, err := filepath.Abs(filepath.Join("..", ".."))
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(root)
	defer t.Chdir(filepath.Join(root, "cmd", "whystone"))
	command, to, redirected := strings.Cut(command, " > ")
	var args []string
	for _, w := range strings.Fields(command)[1:] {
		made := filepath.Join(files, w)
		if _, err := os.Stat(made); err == nil {
			w = made
		} else if found, err := filepath.Glob(w); err == nil && len(found) > 0 {
			args = append(args, found...)
			continue
		}
		args = append(args, w)
	}
	var out, errs bytes.Buffer
	run(context.Background(), args, strings.NewReader(""), &out, &errs, []string{"HOME=" + files}, noon)
	if redirected {
		if err := os.WriteFile(filepath.Join(files, to), out.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		out.Reset()
	}
	return strings.ReplaceAll(errs.String()+out.String(), files+string(filepath.Separator), "")
}
