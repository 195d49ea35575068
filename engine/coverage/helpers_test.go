package coverage_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"whystone/engine"
	"whystone/engine/replay"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/load"
	"whystone/kb/syntax"
)

// asOf is the date by which every case here is judged that says none.
var asOf = time.Date(2031, 6, 1, 12, 0, 0, 0, time.UTC)

func date(c *casefile.Case) time.Time {
	if c.HasTaken {
		return c.Taken
	}
	return asOf
}

// deskFiles are the files of the shipped ruleset, read once, so that an edit meanwhile confuses no check.
var deskFiles = sync.OnceValue(func() []kb.File {
	return load.ReadFiles(context.Background(), []load.Layer{{Name: "diamond-desk",
		FS: os.DirFS("../../rulesets/diamond-desk")}}, nil)
})

// build makes a ruleset of the shipped files, with layers of one file each above them.
func build(tb testing.TB, above ...string) *engine.Engine {
	tb.Helper()
	files := slices.Clone(deskFiles())
	for i, text := range above {
		name := fmt.Sprintf("above-%d", i)
		files = append(files, kb.File{Layer: name, Path: name + ".yaml",
			Source: diag.NewSource(name+".yaml", []byte(text))})
	}
	rs, found := load.Build(files)
	if rs == nil {
		tb.Fatal(found)
	}
	return engine.Prepare(rs)
}

func prepared(tb testing.TB) *engine.Engine { return build(tb) }

// sample is an invented archive of n cases.
func sample(tb testing.TB, e *engine.Engine, n int, seed uint64) string {
	tb.Helper()
	path := filepath.Join(tb.TempDir(), "sample.jsonl")
	f, err := os.Create(path)
	if err != nil {
		tb.Fatal(err)
	}
	if err := replay.Sample(context.Background(), e, n, seed, false, f); err != nil {
		tb.Fatal(err)
	}
	if err := f.Close(); err != nil {
		tb.Fatal(err)
	}
	return path
}

// exampleNodes are the cases of the demo and those that exercise the rules.
func exampleNodes(tb testing.TB) (out []*syntax.Node) {
	tb.Helper()
	for _, folder := range []string{"demo", "coverage"} {
		paths, err := filepath.Glob(filepath.Join("../../testdata", folder, "*.yaml"))
		if err != nil || len(paths) == 0 {
			tb.Fatalf("no cases in testdata/%s (%v)", folder, err)
		}
		for _, path := range paths {
			text, err := os.ReadFile(path)
			if err != nil {
				tb.Fatal(err)
			}
			var found diag.List
			out = append(out, syntax.ParseYAML(diag.NewSource(path, text), &found)...)
			if found.HasErrors() {
				tb.Fatal(found)
			}
		}
	}
	return out
}

// readAll reads cases in the words of a ruleset.
func readAll(tb testing.TB, e *engine.Engine, nodes []*syntax.Node) (out []*casefile.Case) {
	tb.Helper()
	for _, n := range nodes {
		var found diag.List
		c := eval.CaseReader(e.Ruleset).Read(n, &found)
		if c == nil {
			tb.Fatal(found)
		}
		out = append(out, c)
	}
	return out
}
