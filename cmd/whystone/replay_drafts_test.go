package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestReplayDrafts: to replay with --drafts is to replay against the same files that say "active" and no since, the
// digest, every figure and the gate included.
func TestReplayDrafts(t *testing.T) {
	dir := t.TempDir()
	desk := filepath.Join("testdata", "desk")
	write := func(folder, name, text string) {
		if err := os.MkdirAll(filepath.Join(dir, folder), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, folder, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	house := `format: 1
policy:
  gate: [no new false acceptance, at most 0 right to wrong]
rules:
  - {rule: as-heavy, says: x, if: specific_gravity > 5.5, excludes: [cubic-zirconia], source: invented, status: draft, since: 2031-05-01}
`
	write("house", "rules.yaml", house)
	write("active", "rules.yaml", strings.Replace(house, "status: draft, since: 2031-05-01", "status: active", 1))
	for _, name := range []string{"materials.yaml", "policy.yaml", "rules.yaml", "tests.yaml"} {
		text, err := os.ReadFile(filepath.Join(desk, name))
		if err != nil {
			t.Fatal(err)
		}
		write("desk", name, strings.Replace(string(text), "status: draft", "status: active", 1))
	}
	write("", "cases.jsonl", `{"case":"R-1","claim":"diamond","taken":"2031-01-05","readings":{"thermal_probe":"below diamond range","specific_gravity":5.8},"truth":"cubic-zirconia"}
{"case":"R-2","taken":"2031-02-01","readings":{"inclusions":["gas bubbles"],"ri":1.52},"truth":"ordinary-glass"}
{"case":"R-3","taken":"2031-02-01","readings":{"inclusions":["gas bubbles"],"ri":1.544},"truth":"ordinary-glass"}
`)
	at := func(name string) string { return filepath.Join(dir, name) }
	args := []string{"replay", "--gate", "--layer", desk, "--layer", at("house"), at("cases.jsonl")}
	status, got, errs := do(t, noon, []string{"WHYSTONE_SHIPPED=false"}, append(args, "--drafts")...)
	wantStatus, want, wantErrs := do(t, noon, []string{"WHYSTONE_SHIPPED=false"},
		append(args, "--against", at("desk"), "--against", at("active"))...)
	got = strings.Replace(got, ", the same with these drafts active:\n  as-heavy\n  draft-on-glass\n", "\n", 1)
	if status != wantStatus || got != want || errs != wantErrs {
		t.Errorf("status %d\n%s%s\nwant %d\n%s%s", status, got, errs, wantStatus, want, wantErrs)
	}
	if !strings.Contains(got, "gate: no new false acceptance: kept") || !strings.Contains(got, "1 changed") &&
		!strings.Contains(got, "2 changed") {
		t.Errorf("nothing changes, so nothing was compared:\n%s", got)
	}
}
