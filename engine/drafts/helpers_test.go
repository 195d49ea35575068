package drafts

import (
	"testing"
	"testing/fstest"
	"time"

	"whystone/engine"
	"whystone/engine/enginetest"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/load"
)

var findings = enginetest.Findings

// read reads one case in YAML.
func read(tb testing.TB, rs *kb.Ruleset, text string) *casefile.Case {
	tb.Helper()
	return enginetest.Case(tb, rs, "case.yaml", text)
}

var noon = engine.Moment{On: time.Date(2031, 3, 10, 12, 0, 0, 0, time.UTC), DatedBy: "--as-of"}

// loaded builds the shipped ruleset with rules of a house above it.
func loaded(tb testing.TB, rules string) *kb.Ruleset {
	tb.Helper()
	rs, found := tryLoad(tb, rules)
	if rs == nil {
		tb.Fatal(findings(found))
	}
	return rs
}

func tryLoad(tb testing.TB, rules string) (*kb.Ruleset, diag.List) {
	tb.Helper()
	layers := []load.Layer{enginetest.Shipped(tb)}
	if rules != "" {
		layers = append(layers, load.Layer{Name: "house",
			FS: fstest.MapFS{"rules.yaml": {Data: []byte("format: 1\nrules:\n" + rules)}}})
	}
	return load.Load(tb.Context(), layers)
}

// tried judges a case, and tries the drafts on it.
func tried(tb testing.TB, rs *kb.Ruleset, text string) *engine.Output {
	tb.Helper()
	c := read(tb, rs, text)
	out := engine.Prepare(rs).NewJudge().Judge(c, noon)
	New(rs).Try(c, noon, out)
	return out
}
