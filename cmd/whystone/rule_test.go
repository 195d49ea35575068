package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestRuleFrom: a rule is begun on the day of the clock that is handed in, in the policy's zone, and is what the file
// says.
func TestRuleFrom(t *testing.T) {
	want, err := os.ReadFile(filepath.Join("testdata", "rule-from.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join("testdata", "rule-from-case.yaml")
	status, out, errs := do(t, noon, env, "rule", "--from", file)
	if status != done || errs != "" {
		t.Fatal(status, errs)
	}
	if os.Getenv("WHYSTONE_UPDATE") == "1" {
		if err := os.WriteFile(filepath.Join("testdata", "rule-from.yaml"), []byte(out), 0o600); err != nil {
			t.Fatal(err)
		}
	} else if out != string(want) {
		t.Errorf("it is\n%s", out)
	}
	status, asJSON, _ := do(t, noon, env, "rule", "--json", "--from", file)
	var got struct {
		Format     int
		Rule, Text string
	}
	if err := json.Unmarshal([]byte(asJSON), &got); err != nil || status != done || got.Format != 1 ||
		got.Rule != "from-k-17" || got.Text != out {
		t.Errorf("%d, %v: %s", status, err, asJSON)
	}
	if !strings.Contains(out, "since: 2031-04-12\n") {
		t.Error("it does not begin today")
	}
}
