package main

import (
	"bytes"
	"context"
	"io"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"
)

// TestReplayInterrupted: Ctrl-C while standard input is waited for. What came until then is reported as partial, and
// saved.
func TestReplayInterrupted(t *testing.T) {
	stdin, feed := io.Pipe()
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	var out, wrong bytes.Buffer
	status := make(chan int, 1)
	checkpoint := t.TempDir() + "/part.json"
	go func() {
		status <- run(ctx, []string{"replay", "--checkpoint", checkpoint, "-"}, stdin, &out, &wrong,
			[]string{"WHYSTONE_LAYERS=testdata/desk", "WHYSTONE_SHIPPED=false"}, noon)
	}()
	for range 3 { // each is taken before the next is written
		if _, err := io.WriteString(feed, "{\"case\":\"A\",\"readings\":{\"ri\":1.52}}\n"); err != nil {
			t.Fatal(err)
		}
	}
	cancel()
	select {
	case got := <-status:
		if got != interrupted {
			t.Errorf("exit status %d, want %d", got, interrupted)
		}
	case <-time.After(patience):
		t.Fatal("still waiting for standard input")
	}
	if s := out.String(); !strings.HasPrefix(s, "Partial: ") {
		t.Errorf("it does not say that it is partial:\n%s%s", s, wrong.String())
	}
	if raw, err := os.ReadFile(checkpoint); err != nil || !bytes.Contains(raw, []byte(`"partial":true`)) {
		t.Errorf("the checkpoint: %v", err)
	}
}

// TestNamesCommandNoTerminal: the name of a file goes to standard error as what it is, but moves no cursor.
func TestNamesCommandNoTerminal(t *testing.T) {
	for _, args := range [][]string{{"replay", "a\x1b]0;x\x07.jsonl"}, {"judge", "a\x1b]0;x\x07.yaml"},
		{"a\x1b]0;x\x07"}, {"replay", "--report", "\u202e/x", "testdata/desk/rules.yaml"}} {
		var out, wrong bytes.Buffer
		if status := run(context.Background(), args, strings.NewReader(""), &out, &wrong, env,
			noon); status != unusable {
			t.Errorf("%q: status %d", args, status)
		}
		if s := wrong.String(); s == "" || strings.ContainsAny(s, "\x1b\x07\u202e") {
			t.Errorf("%q: %q", args, s)
		}
	}
}

// FuzzPinned: every line that says something pins a case with a reason, or the file is refused with the line.
func FuzzPinned(f *testing.F) {
	f.Add("\uFEFF# kept\nR-1 sent back\r\nR 2\ta name with a space\n")
	f.Add("R-1\n")
	f.Add("\xff 1\n")
	f.Fuzz(func(t *testing.T, text string) {
		pinned, err := pinnedCases("p.txt", []byte(text))
		if err != nil {
			if !strings.HasPrefix(err.Error(), "p.txt:") {
				t.Fatalf("%q: %v", text, err)
			}
			return
		}
		lines := 0
		for line := range strings.Lines(strings.TrimPrefix(text, "\uFEFF")) {
			if line = strings.TrimSpace(line); line != "" && line[0] != '#' {
				lines++
			}
		}
		for id, why := range pinned {
			if id == "" || why == "" || !strings.Contains(text, id) || !strings.Contains(text, why) {
				t.Fatalf("%q: %q pinned for %q", text, id, why)
			}
		}
		if len(pinned) != lines {
			t.Fatalf("%q: %d cases on %d lines", text, len(pinned), lines)
		}
	})
}

// FuzzRevision: what git says of files makes as many files, or is refused.
func FuzzRevision(f *testing.F) {
	f.Add("abc blob 3\nx: \ndangling 7\nHEAD:xy\nabc tree 0\n\n", "a.yaml\nb.txt\nc")
	f.Add("", "a.yaml")
	f.Fuzz(func(t *testing.T, held, names string) {
		_, _ = asFiles(strings.Split(names, "\n"), held)
	})
}

// TestGitIsThere: the script about revisions is skipped where git is not, unless all is asked for.
func TestGitIsThere(t *testing.T) {
	if _, err := exec.LookPath("git"); err != nil {
		if os.Getenv("WHYSTONE_REQUIRE_ALL") == "1" {
			t.Fatal("git is not installed, and WHYSTONE_REQUIRE_ALL=1 asks for it")
		}
		t.Skip("git is not installed: rulesets of a revision are not tested")
	}
}

func TestRevisionIsBounded(t *testing.T) {
	b := atMost{left: 5}
	if _, err := io.Copy(&b, strings.NewReader("12345")); err != nil {
		t.Error(err)
	}
	if _, err := io.Copy(&b, strings.NewReader("6")); err == nil {
		t.Error("more than the bound was taken")
	}
}
