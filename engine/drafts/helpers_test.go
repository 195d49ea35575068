package drafts

import (
	"os"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/doc"
)

var noon = engine.Moment{On: time.Date(2031, 3, 10, 12, 0, 0, 0, time.UTC), From: "--as-of"}

// load builds the shipped ruleset with rules of a house above it.
func load(tb testing.TB, rules string) *kb.Ruleset {
	tb.Helper()
	rs, found := tryLoad(tb, rules)
	if rs == nil {
		tb.Fatal(findings(found))
	}
	return rs
}

func tryLoad(tb testing.TB, rules string) (*kb.Ruleset, diag.List) {
	tb.Helper()
	layers := []kb.Layer{{Name: "diamond-desk", FS: os.DirFS("../../rulesets/diamond-desk")}}
	if rules != "" {
		layers = append(layers, kb.Layer{Name: "house", FS: fstest.MapFS{"rules.yaml": {Data: []byte("format: 1\nrules:\n" + rules)}}})
	}
	return kb.Load(tb.Context(), layers)
}

func findings(l diag.List) string {
	var b strings.Builder
	if err := diag.WriteText(&b, l, diag.TextOptions{Width: 100}); err != nil {
		return err.Error()
	}
	return b.String()
}

// read reads one case in YAML.
func read(tb testing.TB, rs *kb.Ruleset, text string) *casefile.Case {
	tb.Helper()
	var out diag.List
	docs := doc.ParseYAML(diag.NewSource("case.yaml", []byte(text)), &out)
	if len(docs) != 1 {
		tb.Fatal(findings(out))
	}
	c := rs.CaseReader().Read(docs[0], &out)
	if c == nil {
		tb.Fatal(findings(out))
	}
	return c
}

// tried judges a case, and tries the drafts on it.
func tried(tb testing.TB, rs *kb.Ruleset, text string) *engine.Output {
	tb.Helper()
	c := read(tb, rs, text)
	out := engine.Prepare(rs).NewJudge().Judge(c, noon)
	New(rs).Try(c, noon, out)
	return out
}
