package next

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/doc"
)

const (
	shipped = "../../rulesets/diamond-desk"
	demo    = "../../testdata/demo"
)

var noon = engine.Moment{On: time.Date(2031, 3, 10, 12, 0, 0, 0, time.UTC), From: "taken"}

func load(tb testing.TB) *kb.Ruleset {
	tb.Helper()
	rs, l := kb.Load(tb.Context(), []kb.Layer{{Name: "diamond-desk", FS: os.DirFS(shipped)}})
	if rs == nil {
		tb.Fatal(findings(l))
	}
	return rs
}

func findings(l diag.List) string {
	var b strings.Builder
	if err := diag.WriteText(&b, l, diag.TextOptions{Width: 100}); err != nil {
		return err.Error()
	}
	return b.String()
}

// read reads one case in YAML.
func read(tb testing.TB, rs *kb.Ruleset, name, text string) *casefile.Case {
	tb.Helper()
	var out diag.List
	docs := doc.ParseYAML(diag.NewSource(name, []byte(text)), &out)
	if len(docs) != 1 {
		tb.Fatal(findings(out))
	}
	c := rs.CaseReader().Read(docs[0], &out)
	if c == nil {
		tb.Fatal(findings(out))
	}
	return c
}

func demoCases(tb testing.TB, rs *kb.Ruleset) map[string]*casefile.Case {
	tb.Helper()
	files, err := filepath.Glob(filepath.Join(demo, "*.yaml"))
	if err != nil || len(files) == 0 {
		tb.Fatal("no demo cases", err)
	}
	out := map[string]*casefile.Case{}
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			tb.Fatal(err)
		}
		out[strings.TrimSuffix(filepath.Base(f), ".yaml")] = read(tb, rs, f, string(text))
	}
	return out
}

// rounds is how often a drawn check runs: fewer in a short run.
func rounds(n int) int {
	if testing.Short() {
		return n/10 + 1
	}
	return n
}
