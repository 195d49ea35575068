package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

const aCase = "{case: A, readings: {thermal_probe: diamond range}}"

// env makes the tests' small ruleset the only layer.
var env = []string{"WHYSTONE_LAYERS=" + filepath.Join("testdata", "desk"), "WHYSTONE_SHIPPED=false"}

func do(t *testing.T, now func() time.Time, env []string, args ...string) (status int, stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	status = run(context.Background(), args, strings.NewReader(aCase), &out, &errs, append(env, "HOME="+t.TempDir()),
		now)
	return status, out.String(), errs.String()
}

// TestClock: a case without a date is judged as of the clock that is handed in, told in the policy's zone.
func TestClock(t *testing.T) {
	status, out, errs := do(t, noon, env, "judge", "--json", "-")
	var got struct {
		AsOf     string `json:"as_of"`
		AsOfFrom string `json:"as_of_from"`
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil || status != done || errs != "" {
		t.Fatal(status, out, errs, err)
	}
	if got.AsOf != "2031-04-12T13:00:00+01:00" || got.AsOfFrom != "clock" {
		t.Errorf("judged as of %s by %s", got.AsOf, got.AsOfFrom)
	}
}

// TestFault: the program's own mistake ends it with status 3 and a plain word; where it was is told on request.
func TestFault(t *testing.T) {
	broken := func() time.Time { panic("the clock fell down") }
	status, _, errs := do(t, broken, env, "judge", "-")
	if status != fault || !strings.Contains(errs, "internal fault: the clock fell down") ||
		strings.Contains(errs, "goroutine") {
		t.Errorf("status %d, said %q", status, errs)
	}
	status, _, errs = do(t, broken, append(env, "WHYSTONE_DEBUG=1"), "judge", "-")
	if status != fault || !strings.Contains(errs, "goroutine") {
		t.Errorf("with WHYSTONE_DEBUG=1: status %d, said %q", status, errs)
	}
}

// fullDisk takes so many bytes and then no more.
type fullDisk struct{ left int }

func (f *fullDisk) Write(b []byte) (int, error) {
	if f.left -= len(b); f.left < 0 {
		return 0, errors.New("no space left")
	}
	return len(b), nil
}

// TestOutputFails: a verdict that could not be written is no success, in any form of output.
func TestOutputFails(t *testing.T) {
	for _, args := range [][]string{{"judge", "-"}, {"judge", "--json", "-"}, {"why", "-"}, {"material"},
		{"material", "--json"}, {"rule"}, {"--help"}} {
		var errs bytes.Buffer
		status := run(context.Background(), args, strings.NewReader(aCase), &fullDisk{left: 10}, &errs,
			append(env, "HOME="+t.TempDir()), noon)
		if status != fault || !strings.Contains(errs.String(), "no space left") {
			t.Errorf("%s: status %d, said %q", args, status, errs.String())
		}
	}
}

// TestInterrupted: work that was cut short says so, and is no success.
func TestInterrupted(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	for _, args := range [][]string{{"judge", "-"}, {"material"}, {"judge", "--watch",
		filepath.Join("testdata", "desk", "rules.yaml")}} {
		var out, errs bytes.Buffer
		if status := run(ctx, args, strings.NewReader(aCase), &out, &errs, append(env, "HOME="+t.TempDir()),
			noon); status != interrupted {
			t.Errorf("%s: status %d, said %q", args, status, errs.String())
		}
	}
}

// TestNothingIsTakenFromThisProcess: neither the process's environment nor its clock reaches a verdict.
func TestNothingIsTakenFromThisProcess(t *testing.T) {
	t.Setenv("WHYSTONE_OUTPUT", "json")
	t.Setenv("WHYSTONE_NO_SUCH_THING", "x")
	dir := t.TempDir()
	t.Setenv("XDG_CONFIG_HOME", dir)
	t.Setenv("HOME", dir)
	if err := os.MkdirAll(filepath.Join(dir, "whystone"), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "whystone", "config.yaml"), []byte("nonsense: 1\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	status, out, errs := do(t, noon, env, "judge", "-")
	if status != done || !strings.Contains(out, "as of today, 2031-04-12") || errs != "" {
		t.Errorf("status %d, said %q, %q", status, out, errs)
	}
}
