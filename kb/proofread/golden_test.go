package proofread

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"whystone/kb/diag"
	"whystone/kb/kbtest"
)

// TestTexts pins how findings of every kind are told, witnesses included. WHYSTONE_UPDATE=1 writes the golden files
// anew; read what it wrote.
func TestTexts(t *testing.T) {
	names, err := filepath.Glob("testdata/texts/*.yaml")
	if err != nil || len(names) == 0 {
		t.Fatal("no files", err)
	}
	told := map[string]bool{}
	for _, name := range names {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		r := report(t, above(t, string(text)))
		for _, f := range r.Findings {
			told[string(f.Code)] = true
		}
		if !strings.Contains(name, "upkeep") { // the rules there have no examples, so as to be short
			r.Findings = slices.DeleteFunc(r.Findings, func(f Finding) bool { return f.Code == "no-examples" })
		}
		kbtest.Golden(t, strings.TrimSuffix(name, ".yaml")+".golden", rendered(t, r))
	}
	for _, c := range allCodes() {
		if !told[c] {
			t.Errorf("no golden file tells of %s", c)
		}
	}
}

// rendered is each finding as a person reads it, with the case that shows it.
func rendered(t *testing.T, r *Report) string {
	var b strings.Builder
	for _, f := range r.Findings {
		b.WriteString(written(t, diag.List{f.Diagnostic}))
		if f.Witness != nil {
			b.WriteString("  shown by " + strings.Join(f.Witness.Says, ", ") + ":\n    " +
				strings.ReplaceAll(strings.TrimSpace(f.Witness.Text), "\n", "\n    ") + "\n")
		}
		b.WriteByte('\n')
	}
	return b.String()
}
