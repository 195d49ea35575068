package kbtest

import (
	"go/parser"
	"go/token"
	"io/fs"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// floors are the program's packages from the lowest up: each may import those that stand before it. A name with "/..."
// at its end is a folder with all below it, which may import one another.
var floors = []string{
	"kb/diag", // what everything may import imports nothing
	"kb/bitset", "kb/english", "kb/quantity", "kb/logic", "kb/vocab", "kb/physics", "kb/physics/raytrace", "kb/syntax",
	"kb/condition", "kb/casefile", "kb", "kb/eval", "kb/load/table", "kb/load", "kb/tidy", "kb/sat", "kb/proofread",
	"kb/reload", "engine/phrase", "engine", "engine/...", "rulesets", "cmd/...",
}

// forTests are imported by tests only.
var forTests = []string{"kb/kbtest", "kb/internal/emit", "kb/internal/want", "kb/load/loadtest", "engine/enginetest"}

// barred are imports that would be downwards, and are none all the same.
var barred = map[string][]string{
	"kb":      {"kb/syntax"},            // its things know nothing of the texts that they were read from
	"kb/eval": {"kb/syntax"},            // nor does what runs them
	"engine":  {"kb/syntax", "kb/load"}, // nor does what judges by them
	"kb/sat":  {"kb/load", "kb/eval"},   // what conditions can be true of is told by other means than trying them
}

// TestImportsGoDown: no package imports one that stands above it, nothing but the program imports the shipped ruleset,
// and what is for tests stays with them.
func TestImportsGoDown(t *testing.T) {
	imports := importsOf(t, Root(t))
	if len(imports) < 30 {
		t.Fatalf("only %d packages are found", len(imports))
	}
	for from, list := range imports {
		if slices.Contains(forTests, from) {
			continue
		}
		at := floor(from)
		if at < 0 {
			t.Errorf("%s is on no floor", from)
		}
		for _, to := range list {
			switch on := floor(to); {
			case on == at && strings.HasSuffix(floors[at], "/..."):
			case on < 0 || on >= at:
				t.Errorf("%s imports %s, which is not below it", from, to)
			case slices.Contains(barred[from], to):
				t.Errorf("%s imports %s", from, to)
			case to == "rulesets" && from != "cmd/whystone":
				t.Errorf("%s imports the shipped ruleset", from)
			}
		}
	}
}

// floor is the place of a package among the floors, or -1.
func floor(pkg string) int {
	if i := slices.Index(floors, pkg); i >= 0 {
		return i
	}
	return slices.IndexFunc(floors, func(f string) bool {
		folder, whole := strings.CutSuffix(f, "...")
		return whole && strings.HasPrefix(pkg, folder) && !slices.Contains(forTests, pkg)
	})
}

// importsOf lists what of ours each package imports, tests left out.
func importsOf(t *testing.T, root string) map[string][]string {
	t.Helper()
	out := map[string][]string{}
	err := filepath.WalkDir(root, func(name string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && name != root && (strings.HasPrefix(d.Name(), ".") || d.Name() == "testdata"):
			return fs.SkipDir
		case d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go"):
			return nil
		}
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, name)
		if err != nil {
			return err
		}
		pkg := path.Dir(filepath.ToSlash(rel))
		if _, seen := out[pkg]; !seen {
			out[pkg] = nil
		}
		for _, i := range f.Imports {
			whole, err := strconv.Unquote(i.Path.Value)
			if err != nil {
				return err
			}
			if to, ours := strings.CutPrefix(whole, "whystone/"); ours && !slices.Contains(out[pkg], to) {
				out[pkg] = append(out[pkg], to)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}
