// Package enginetest is what tests of the packages below engine share: the shipped ruleset, with layers above it, and
// cases.
package enginetest

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/kbtest"
	"whystone/kb/load"
	"whystone/kb/syntax"
)

// Ruleset loads the shipped ruleset, with layers of a house above it.
func Ruleset(tb testing.TB, above ...load.Layer) *kb.Ruleset {
	tb.Helper()
	rs, found := load.Load(tb.Context(), append([]load.Layer{Shipped(tb)}, above...))
	if rs == nil {
		tb.Fatal(Findings(found))
	}
	return rs
}

// Shipped is the layer of the shipped ruleset.
func Shipped(tb testing.TB) load.Layer {
	tb.Helper()
	return load.Layer{Name: "diamond-desk", FS: os.DirFS(filepath.Join(kbtest.Root(tb), "rulesets", "diamond-desk"))}
}

// Findings is a list as people read it.
func Findings(l diag.List) string {
	var b strings.Builder
	if err := diag.WriteText(&b, l, diag.TextOptions{Width: 100}); err != nil {
		return err.Error()
	}
	return b.String()
}

// Case reads the one case of a text in YAML.
func Case(tb testing.TB, rs *kb.Ruleset, name, text string) *casefile.Case {
	tb.Helper()
	cases := Cases(tb, rs, name, text)
	if len(cases) != 1 {
		tb.Fatalf("%s holds %d cases", name, len(cases))
	}
	return cases[0]
}

// Cases reads all cases of a text in YAML, of which there is one at least.
func Cases(tb testing.TB, rs *kb.Ruleset, name, text string) (cases []*casefile.Case) {
	tb.Helper()
	var out diag.List
	for _, n := range syntax.ParseYAML(diag.NewSource(name, []byte(text)), &out) {
		c := eval.CaseReader(rs).Read(n, &out)
		if c == nil {
			tb.Fatal(Findings(out))
		}
		cases = append(cases, c)
	}
	if len(cases) == 0 {
		tb.Fatal(Findings(out))
	}
	return cases
}

// Demo reads the demo cases, by the names of their files.
func Demo(tb testing.TB, rs *kb.Ruleset) map[string]*casefile.Case {
	tb.Helper()
	files, err := filepath.Glob(filepath.Join(kbtest.Root(tb), "testdata", "demo", "*.yaml"))
	if err != nil || len(files) == 0 {
		tb.Fatal("no demo cases", err)
	}
	out := map[string]*casefile.Case{}
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			tb.Fatal(err)
		}
		out[strings.TrimSuffix(filepath.Base(f), ".yaml")] = Case(tb, rs, f, string(text))
	}
	return out
}
