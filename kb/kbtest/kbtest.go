// Package kbtest is what tests of several packages share: published tables, and golden files. It imports nothing of
// ours, so that every package's tests may use it.
package kbtest

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// Root is the repository's folder: the one with go.mod, at or above that in which the test runs.
func Root(tb testing.TB) string {
	tb.Helper()
	dir, err := os.Getwd()
	for err == nil {
		if _, missing := os.Stat(filepath.Join(dir, "go.mod")); missing == nil {
			return dir
		}
		if dir == filepath.Dir(dir) {
			break
		}
		dir = filepath.Dir(dir)
	}
	tb.Fatal("the test runs outside the repository", err)
	return ""
}

// Drawn fails a test that came by fewer than a floor of what it looks at. Of a short run, in which rapid draws a fifth
// as many, a twentieth is asked.
func Drawn(tb testing.TB, what string, count, floor int) {
	tb.Helper()
	if testing.Short() {
		floor /= 20
	}
	if count < floor {
		tb.Errorf("only %d %s, not %d", count, what, floor)
	}
}

// Published reads a table of published figures, by its name in testdata/published; the rows come as maps by column.
func Published(tb testing.TB, name string) []map[string]string {
	tb.Helper()
	return Rows(tb, filepath.Join(Root(tb), "testdata", "published", name))
}

// Rows reads a CSV file whose first line names the columns; lines that begin with "#" are left out.
func Rows(tb testing.TB, path string) []map[string]string {
	tb.Helper()
	f, err := os.Open(path)
	if err != nil {
		tb.Fatal(err)
	}
	defer func() { _ = f.Close() }() // only read
	r := csv.NewReader(f)
	r.Comment = '#'
	lines, err := r.ReadAll()
	if err != nil || len(lines) < 2 {
		tb.Fatalf("%s: %d lines, %v", path, len(lines), err)
	}
	rows := make([]map[string]string, 0, len(lines)-1)
	for _, line := range lines[1:] {
		row := make(map[string]string, len(line))
		for i, cell := range line {
			row[lines[0][i]] = cell
		}
		rows = append(rows, row)
	}
	return rows
}

// Golden compares a text with a file. With WHYSTONE_UPDATE=1 it writes the file instead; read then what it wrote.
func Golden(tb testing.TB, path, got string) {
	tb.Helper()
	if os.Getenv("WHYSTONE_UPDATE") == "1" {
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			tb.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			tb.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		tb.Fatal(err, "; write it with WHYSTONE_UPDATE=1")
	}
	if d := cmp.Diff(string(want), got); d != "" {
		tb.Errorf("%s differs; run with WHYSTONE_UPDATE=1 and read what changed:\n%s", path, d)
	}
}
