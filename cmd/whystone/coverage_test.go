package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
	"github.com/spf13/cobra"

	"whystone/cmd/whystone/config"
	"whystone/engine/coverage"
)

// covered runs the coverage of archives as a command would, with flags of the whole program.
func covered(t *testing.T, ctx context.Context, stdin io.Reader, o proofreading, flags ...string) (stdout,
	stderr string, err error) {
	t.Helper()
	var out, wrong bytes.Buffer
	a := &app{stdin: stdin, stdout: &output{to: &out}, stderr: &wrong, now: noon,
		env: config.Env([]string{"WHYSTONE_LAYERS=" + filepath.Join("testdata", "desk"), "WHYSTONE_SHIPPED=false"})}
	cmd := &cobra.Command{Use: "coverage", SilenceErrors: true, SilenceUsage: true,
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := a.begin(cmd)
			if err != nil {
				return err
			}
			return s.proofread(cmd.Context(), nil, false, &o)
		}}
	config.AddFlags(cmd.PersistentFlags())
	cmd.SetArgs(append([]string{}, flags...))
	err = cmd.ExecuteContext(ctx)
	return out.String(), wrong.String(), err
}

var fourCases = []string{filepath.Join("testdata", "coverage-cases.jsonl")}

// TestCoverageText pins what is told, whole; WHYSTONE_UPDATE=1 writes it anew.
func TestCoverageText(t *testing.T) {
	for name, all := range map[string]bool{"coverage-weak.txt": false, "coverage-all.txt": true} {
		got, wrong, err := covered(t, t.Context(), nil, proofreading{cases: fourCases, all: all})
		if err != nil || wrong != "" {
			t.Fatalf("%v, %s", err, wrong)
		}
		golden := filepath.Join("testdata", name)
		if *update || os.Getenv("WHYSTONE_UPDATE") == "1" {
			if err := os.WriteFile(golden, []byte(got), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(golden)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(string(want), got); d != "" {
			t.Errorf("%s: %s", name, d)
		}
	}
}

// TestCoverageWidths: no line is wider than asked, words that stand alone aside.
func TestCoverageWidths(t *testing.T) {
	for _, width := range []string{"60", "80", "120"} {
		got, _, err := covered(t, t.Context(), nil, proofreading{cases: fourCases, all: true}, "--width", width)
		if err != nil {
			t.Fatal(err)
		}
		most := map[string]int{"60": 60, "80": 80, "120": 120}[width]
		for l := range strings.Lines(got) {
			l = strings.TrimRight(l, "\n")
			if utf8.RuneCountInString(l) > most && strings.Contains(strings.TrimSpace(l), " ") {
				t.Errorf("width %s: %q", width, l)
			}
		}
	}
}

func TestCoverageJSON(t *testing.T) {
	got, _, err := covered(t, t.Context(), nil, proofreading{cases: fourCases, asOf: "2030-01-02"}, "--json")
	if err != nil {
		t.Fatal(err)
	}
	var r struct {
		coverage.Report
		Findings []struct{ Code, Severity, File string } `json:"findings"`
	}
	if err := json.Unmarshal([]byte(got), &r); err != nil {
		t.Fatal(err)
	}
	if r.Format != 1 || r.Cases != 3 || r.Unreadable != 1 || r.Undated != 1 ||
		!strings.HasPrefix(r.AsOf, "2030-01-02T") || r.AsOfFrom != "--as-of" || len(r.Rules) == 0 {
		t.Errorf("%+v", r.Report)
	}
	if len(r.Findings) == 0 || r.Findings[0].Code != "never-fired" || r.Findings[0].Severity != "note" ||
		r.Findings[0].File == "" {
		t.Errorf("%+v", r.Findings)
	}
}

func TestCoverageRefuses(t *testing.T) {
	for want, do := range map[string]func() error{
		"there is no archive nowhere.jsonl": func() error {
			_, _, err := covered(t, t.Context(), nil, proofreading{cases: []string{"nowhere.jsonl"}})
			return err
		},
		`--as-of "soon" is no date`: func() error {
			_, _, err := covered(t, t.Context(), nil, proofreading{cases: fourCases, asOf: "soon"})
			return err
		},
		"the mapping can't be read": func() error {
			_, _, err := covered(t, t.Context(), nil, proofreading{cases: fourCases, mapping: "no-map.yaml"})
			return err
		},
	} {
		if err := do(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
}

// TestCoverageInterrupted: Ctrl-C while standard input is waited for. What came until then is told as partial.
func TestCoverageInterrupted(t *testing.T) {
	stdin, feed := io.Pipe()
	ctx, cancel := context.WithCancel(t.Context())
	go func() {
		for range 3 { // each is taken before the next is written
			_, _ = io.WriteString(feed, "{\"case\":\"A\",\"readings\":{\"ri\":1.52}}\n")
		}
		cancel()
	}()
	got, _, err := covered(t, ctx, stdin, proofreading{cases: []string{"-"}})
	if !errors.Is(err, context.Canceled) || !strings.HasPrefix(got, "The archive was not read to its end.") {
		t.Errorf("%v\n%s", err, got)
	}
}
