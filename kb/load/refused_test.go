package load_test

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"whystone/kb/diag"
	"whystone/kb/internal/want"
	"whystone/kb/kbtest"
	"whystone/kb/load/loadtest"
)

// TestRefused lays each file of testdata/refused over the small ruleset, as a house's layer. What is said of it stands
// beside the offending lines; how it is said stands in the golden file beside it.
func TestRefused(t *testing.T) {
	names, err := filepath.Glob("testdata/refused/*.yaml")
	if err != nil || len(names) < 10 {
		t.Fatalf("%d files, %v", len(names), err)
	}
	for _, name := range names {
		t.Run(strings.TrimSuffix(filepath.Base(name), ".yaml"), func(t *testing.T) {
			text, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			rs, out := loadtest.House(t, map[string]string{filepath.Base(name): string(text)})
			if rs != nil || !out.HasErrors() {
				t.Error("it was loaded")
			}
			sources := []*diag.Source{}
			for _, d := range out {
				if !d.Span.IsZero() && strings.HasPrefix(d.Span.Source.Name, "house/") {
					sources = append(sources[:0], d.Span.Source)
				}
			}
			for _, d := range want.Check(sources, out) {
				t.Error(d)
			}
			sorted := append(diag.List(nil), out...)
			if sorted.Sort(); cmp.Diff(sorted.Error(), out.Error()) != "" {
				t.Error("the findings are not in the order of the file")
			}
			_, out = loadtest.House(t, map[string]string{filepath.Base(name): withoutWants.ReplaceAllString(string(text), "")})
			kbtest.Golden(t, strings.TrimSuffix(name, ".yaml")+".golden", loadtest.Render(t, out))
		})
	}
}

// withoutWants matches the expectations, which no author's file has.
var withoutWants = regexp.MustCompile(`(?m) *(// )?# want: .*$`)
