package kb

import (
	"bytes"
	"flag"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"testing"
	"testing/fstest"

	"whystone/kb/diag"
)

var update = flag.Bool("update", false, "write the golden files anew")

// updating tells whether to write the golden files anew. Read what it wrote. The variable is looked at while a test runs:
// only then does go test know that its kept result depends on it.
func updating() bool { return *update || os.Getenv("WHYSTONE_UPDATE") == "1" }

// small is the files of the small ruleset, with others laid over them: a file is replaced, or taken away when it is empty.
func small(t testing.TB, over map[string]string) fstest.MapFS {
	t.Helper()
	files := fstest.MapFS{}
	names, err := filepath.Glob("testdata/small/*.yaml")
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

func stackOf(lower fs.FS, upper map[string]string) []Layer {
	layers := []Layer{{Name: "small", FS: lower}}
	if upper == nil {
		return layers
	}
	files := fstest.MapFS{}
	for name, text := range upper {
		files[name] = &fstest.MapFile{Data: []byte(text)}
	}
	return append(layers, Layer{Name: "house", FS: files})
}

// load builds the small ruleset with more laid above it as a layer of its own.
func load(t testing.TB, upper map[string]string) (*Ruleset, diag.List) {
	t.Helper()
	return Load(t.Context(), stackOf(small(t, nil), upper))
}

// withRules loads the small ruleset with rules of a house above it.
func withRules(t testing.TB, rules string) *Ruleset {
	t.Helper()
	return mustLoad(t, map[string]string{"house.yaml": "format: 1\nrules:\n" + rules})
}

func mustLoad(t testing.TB, upper map[string]string) *Ruleset {
	t.Helper()
	rs, out := load(t, maps.Clone(upper))
	if rs == nil || len(out) > 0 {
		t.Fatal(render(t, out))
	}
	return rs
}

func render(t testing.TB, out diag.List) string {
	t.Helper()
	var b bytes.Buffer
	if err := diag.WriteText(&b, out, diag.TextOptions{Max: 1000}); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// writtenRule is what the topmost layer's sheet of a rule says.
func writtenRule(rs *Ruleset, id string) (written string) {
	for _, s := range rs.Sheets {
		if s.Kind == RuleSheet && s.ID == id {
			written = s.Written
		}
	}
	return written
}
