// Package loadtest is a small ruleset for tests, to lay the files of a house over, with what is tried on it again and
// again.
package loadtest

import (
	"bytes"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/kbtest"
	"whystone/kb/load"
	"whystone/kb/syntax"
)

// Small is the files of the small ruleset, with others laid over them: a file is replaced, or taken away when it is
// empty.
func Small(t testing.TB, over map[string]string) fstest.MapFS {
	t.Helper()
	files := fstest.MapFS{}
	names, err := filepath.Glob(filepath.Join(kbtest.Root(t), "kb", "load", "testdata", "small", "*.yaml"))
	if err != nil || len(names) == 0 {
		t.Fatal("the small ruleset is not there", err)
	}
	for _, name := range names {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		files[filepath.Base(name)] = &fstest.MapFile{Data: text}
	}
	for name, text := range over {
		files[name] = &fstest.MapFile{Data: []byte(text)}
		if text == "" {
			delete(files, name)
		}
	}
	return files
}

// Stack is a layer with the files of a house above it; none when they are nil.
func Stack(lower fs.FS, upper map[string]string) []load.Layer {
	layers := []load.Layer{{Name: "small", FS: lower}}
	if upper == nil {
		return layers
	}
	files := fstest.MapFS{}
	for name, text := range upper {
		files[name] = &fstest.MapFile{Data: []byte(text)}
	}
	return append(layers, load.Layer{Name: "house", FS: files})
}

// House loads the small ruleset with the files of a house above it.
func House(t testing.TB, upper map[string]string) (*kb.Ruleset, diag.List) {
	t.Helper()
	return load.Load(t.Context(), Stack(Small(t, nil), upper))
}

// WithRules loads the small ruleset with rules of a house above it.
func WithRules(t testing.TB, rules string) *kb.Ruleset {
	t.Helper()
	return Must(t, map[string]string{"house.yaml": "format: 1\nrules:\n" + rules})
}

// Must is House where nothing is to be said of the files.
func Must(t testing.TB, upper map[string]string) *kb.Ruleset {
	t.Helper()
	rs, out := House(t, maps.Clone(upper))
	if rs == nil || len(out) > 0 {
		t.Fatal(Render(t, out))
	}
	return rs
}

// Render is findings as a terminal shows them.
func Render(t testing.TB, out diag.List) string {
	t.Helper()
	var b bytes.Buffer
	if err := diag.WriteText(&b, out, diag.TextOptions{Max: 1000}); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// Case reads a case in the words of a ruleset.
func Case(t testing.TB, rs *kb.Ruleset, text string) *casefile.Case {
	t.Helper()
	var out diag.List
	docs := syntax.ParseYAML(diag.NewSource("case.yaml", []byte("case: A-1\n"+text)), &out)
	if len(docs) != 1 {
		t.Fatal(out)
	}
	c := eval.CaseReader(rs).Read(docs[0], &out)
	if c == nil {
		t.Fatalf("%s\n%s", text, out.Error())
	}
	return c
}

// Day is a day for cases that say none.
var Day = time.Date(2031, 4, 12, 0, 0, 0, 0, time.UTC)

// RunOn applies a ruleset to a case.
func RunOn(t testing.TB, rs *kb.Ruleset, text string) *eval.Run {
	t.Helper()
	run := eval.New(rs)
	run.Do(Case(t, rs, text), Day)
	return run
}

// Truths says what became of some rules.
func Truths(t testing.TB, rs *kb.Ruleset, run *eval.Run, ids ...string) string {
	t.Helper()
	var out []string
	for _, id := range ids {
		r := rs.Rule(id)
		if r == nil {
			t.Fatalf("no rule %s", id)
		}
		out = append(out, id+" "+run.Rules[r.Turn].String())
	}
	return strings.Join(out, ", ")
}

// Names are the ids of leaves.
func Names(rs *kb.Ruleset, leaves []int) (out []string) {
	for _, i := range leaves {
		out = append(out, rs.Leaves[i].ID)
	}
	return out
}

// CheckExamples runs the examples of all rules and lists those that don't come out.
func CheckExamples(rs *kb.Ruleset, on time.Time) (out diag.List) {
	run := eval.New(rs)
	for _, r := range rs.Rules {
		out = append(out, run.CheckExamples(r, on)...)
	}
	return out
}
