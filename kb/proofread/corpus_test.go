package proofread

import (
	"context"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/internal/want"
	"whystone/kb/load"
)

// on is the day by which everything here is proofread.
var on = time.Date(2031, 4, 12, 12, 0, 0, 0, time.UTC)

// above builds the sound ruleset with a file of a house above it.
func above(t testing.TB, text string) *kb.Ruleset {
	t.Helper()
	layers := []load.Layer{{Name: "base", FS: os.DirFS("testdata/base")}}
	if text != "" {
		layers = append(layers, load.Layer{Name: "house", FS: fstest.MapFS{"house.yaml": {Data: []byte(text)}}})
	}
	return loaded(t, layers...)
}

func loaded(t testing.TB, layers ...load.Layer) *kb.Ruleset {
	t.Helper()
	rs, out := load.Load(context.Background(), layers)
	if rs == nil || out.HasErrors() {
		t.Fatal(written(t, out))
	}
	return rs
}

func report(t testing.TB, rs *kb.Ruleset) *Report {
	t.Helper()
	r, err := Run(context.Background(), rs, Options{On: on})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// diagnostics are the findings that are not accepted.
func diagnostics(r *Report) (out diag.List) {
	for _, f := range r.Open(true) {
		out = append(out, f.Diagnostic)
	}
	return out
}

func written(t testing.TB, l diag.List) string {
	t.Helper()
	var b strings.Builder
	if err := diag.WriteText(&b, l, diag.TextOptions{Max: 1000}); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// TestBase: what the seeded defects are laid above is sound.
func TestBase(t *testing.T) {
	if found := diagnostics(report(t, above(t, ""))); len(found) > 0 {
		t.Error(written(t, found))
	}
}

// allCodes lists the codes that the checks of this package make findings of.
func allCodes() []string {
	out := []string{string(acceptanceIdle), string(diag.ExampleFails)}
	for _, c := range checks {
		for _, e := range c.Finds {
			out = append(out, string(e))
		}
	}
	return out
}

// TestDefects lays each file of testdata/defects above the sound ruleset. What is found stands beside the offending
// lines, and nothing else may be: the rules that expect nothing are look-alikes of defects. Sources and examples are
// asked for in the files about upkeep alone.
func TestDefects(t *testing.T) {
	names, err := filepath.Glob("testdata/defects/*.yaml")
	if err != nil || len(names) == 0 {
		t.Fatal("no seeded defects", err)
	}
	seeded, sound, codes := 0, 0, map[string]bool{}
	for _, name := range names {
		topic := strings.TrimSuffix(filepath.Base(name), ".yaml")
		t.Run(topic, func(t *testing.T) {
			text, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			found := diagnostics(report(t, above(t, string(text))))
			if !strings.HasPrefix(topic, "upkeep") {
				found = slices.DeleteFunc(found, func(d diag.Diagnostic) bool {
					return d.Code == "no-examples" ||
						d.Code == "no-source"
				})
			}
			for _, d := range found {
				codes[string(d.Code)] = true
			}
			for _, d := range want.Check([]*diag.Source{houseFile(found, text)}, found) {
				t.Error(d)
			}
			s, n := seeds(string(text))
			seeded, sound = seeded+s, sound+n
		})
	}
	if seeded < 150 || sound < 140 {
		t.Errorf("%d seeded defects and %d look-alikes are too few", seeded, sound)
	}
	for _, c := range allCodes() {
		if !codes[c] {
			t.Errorf("no file seeds %s", c)
		}
	}
}

// houseFile is the source that the findings lie in; where there are none, one like it.
func houseFile(found diag.List, text []byte) *diag.Source {
	for _, d := range found {
		if !d.Span.IsZero() && strings.HasPrefix(d.Span.Source.Name, "house/") {
			return d.Span.Source
		}
	}
	return diag.NewSource("house/house.yaml", text)
}

var sheetStart = regexp.MustCompile(`(?m)^  - (rule|material|group|table|define): `)

// seeds counts what a file expects, and the sheets of it that expect nothing.
func seeds(text string) (seeded, sound int) {
	starts := sheetStart.FindAllStringIndex(text, -1)
	for i, at := range starts {
		end := len(text)
		if i+1 < len(starts) {
			end = starts[i+1][0]
		}
		n := 0
		for _, line := range strings.Split(text[at[0]:end], "\n") {
			if _, list, ok := strings.Cut(line, "# want: "); ok {
				n += 1 + strings.Count(list, "; ")
			}
		}
		if seeded += n; n == 0 {
			sound++
		}
	}
	return seeded, sound
}
