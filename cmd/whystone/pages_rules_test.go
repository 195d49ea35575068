package main

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"go.yaml.in/yaml/v4"
)

// TestPageOfRules: the rules and the policy that the page on rules shows are those of a file that loads above the
// shipped rules, has nothing but notes against it, and says all that a rule may say follows.
func TestPageOfRules(t *testing.T) {
	folder := filepath.Join("..", "..", "testdata", "readme", "effects")
	text, err := os.ReadFile(filepath.Join(folder, "house.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	page, err := os.ReadFile(filepath.Join("topics", "rules.md"))
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(page), "```yaml\n"+string(text)+"```\n") {
		t.Error("topics/rules.md has no block that equals testdata/readme/effects/house.yaml: put the file there as " +
			"it is")
	}
	var out, errs bytes.Buffer
	status := run(context.Background(), []string{"proofread", folder, "--json"}, strings.NewReader(""), &out, &errs,
		[]string{"HOME=" + t.TempDir()}, noon)
	var found struct {
		Findings []struct {
			Severity, Summary string
			Accepted          *struct{} // with a reason, on its sheet
		}
	}
	if err := json.Unmarshal(out.Bytes(), &found); err != nil || status != 0 {
		t.Fatalf("it ends with status %d, %v\n%s%s", status, err, &out, &errs)
	}
	for _, f := range found.Findings {
		if f.Severity != "note" && f.Accepted == nil {
			t.Errorf("%s: %s", f.Severity, f.Summary)
		}
	}
	var file struct {
		Rules  []map[string]any
		Policy map[string]any
	}
	if err := yaml.Unmarshal(text, &file); err != nil {
		t.Fatal(err)
	}
	said := []string{}
	for _, r := range file.Rules {
		for key := range r {
			said = append(said, key)
		}
	}
	for key := range file.Policy {
		said = append(said, key)
	}
	for _, key := range strings.Fields("if unless family excludes supports weakens sets_aside establishes calls_for " +
		"forbids cautions sends_on withholds source examples instruments priors required claims every_sheet_says") {
		if !slices.Contains(said, key) {
			t.Errorf("the example has no %s", key)
		}
	}
}
