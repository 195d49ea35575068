package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"whystone/kb/english"
	"whystone/kb/kbtest"
)

// floors are the folders of the program from the lowest: a package imports from its own floor and from those below.
var floors = []string{"kb", "engine", "cmd"}

// owners are the only packages that may import a library, so that another could take its place.
var owners = map[string][]string{
	"github.com/spf13/viper":                {"cmd/whystone/config"},
	"github.com/expr-lang/expr":             {"kb/condition"},
	"github.com/fsnotify/fsnotify":          {"kb/live"},
	"github.com/parquet-go/parquet-go":      {"engine/archive"},
	"go.yaml.in/yaml/v4":                    {"kb/doc"},
	"github.com/gowebpki/jcs":               {"kb", "cmd/whystone/casebook"},
	"github.com/spf13/cobra":                {"cmd/whystone"},
	"github.com/schollz/progressbar/v3":     {"cmd/whystone"},
	"github.com/aymanbagabas/go-udiff":      {"cmd/whystone"},
	"golang.org/x/text/width":               {"kb/diag"},
	"modernc.org/sqlite":                    {"cmd/whystone/casebook/sqlite"},
	"gonum.org/v1/gonum":                    {"engine/next"},
	"github.com/google/go-cmp/cmp":          nil, // tests alone
	"pgregory.net/rapid":                    nil,
	"github.com/rogpeppe/go-internal":       nil,
	"github.com/santhosh-tekuri/jsonschema": nil,
}

// forTests are the packages that only tests, and each other, may import.
var forTests = []string{"kb/kbtest", "kb/internal/want", "kb/internal/emit", "engine/enginetest", "cmd/whystone/casebook/storetest"}

// TestImportsGoDown holds the layers over what every file imports, tests left out: nothing imports upwards, diagnostics stand
// on nothing of ours, the shipped rules are known to the program alone, and each library has its owner.
func TestImportsGoDown(t *testing.T) {
	imports := ourImports(t)
	if len(imports) < 30 {
		t.Fatalf("only %d packages", len(imports))
	}
	for _, pkg := range slices.Sorted(maps.Keys(imports)) {
		for _, imported := range imports[pkg] {
			if why := wrong(pkg, imported); why != "" {
				t.Errorf("%s imports %s: %s", pkg, imported, why)
			}
		}
	}
}

// wrong says what is wrong about an import, if anything.
func wrong(pkg, imported string) string {
	ours, is := strings.CutPrefix(imported, "whystone/")
	if !is {
		for library, by := range owners {
			within := imported == library || strings.HasPrefix(imported, library+"/")
			if within && !slices.Contains(by, pkg) && !slices.Contains(forTests, pkg) {
				return "that is for tests, or for " + english.List(by, "and")
			}
		}
		return ""
	}
	switch {
	case pkg == "kb/diag":
		return "diagnostics stand on nothing of ours"
	case slices.Contains(forTests, ours) && !slices.Contains(forTests, pkg):
		return "that is for tests"
	case pkg == "rulesets":
		return "the shipped rules are data"
	case ours == "rulesets":
		if floor(pkg) == "cmd" || pkg == "engine/enginetest" {
			return ""
		}
		return "only the program knows what is shipped"
	case slices.Index(floors, floor(ours)) < 0 || slices.Index(floors, floor(ours)) > slices.Index(floors, floor(pkg)):
		return "that is above it"
	}
	return ""
}

func floor(pkg string) string { f, _, _ := strings.Cut(pkg, "/"); return f }

// ourImports is what each package's files import, tests left out, by the package's folder.
func ourImports(t *testing.T) map[string][]string {
	t.Helper()
	root := kbtest.Root(t)
	out := map[string][]string{}
	err := filepath.WalkDir(root, func(name string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && (d.Name() == "testdata" || strings.HasPrefix(d.Name(), ".") && name != root):
			return filepath.SkipDir
		case d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go"):
			return nil
		}
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, name)
		pkg := path.Dir(filepath.ToSlash(rel))
		for _, spec := range f.Imports {
			p, _ := strconv.Unquote(spec.Path.Value) // the parser took it
			out[pkg] = append(out[pkg], p)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// TestWrongImports: what TestImportsGoDown is to find, it finds.
func TestWrongImports(t *testing.T) {
	for pkg, imported := range map[string]string{"kb": "whystone/engine", "kb/proofread": "whystone/engine/apart",
		"engine/next": "whystone/cmd/whystone/tell", "kb/diag": "whystone/kb/doc", "engine": "whystone/rulesets", "rulesets": "whystone/kb",
		"cmd/whystone/page": "whystone/kb/kbtest", "cmd/whystone/tell": "github.com/spf13/viper", "kb/casefile": "go.yaml.in/yaml/v4",
		"kb/box": "github.com/expr-lang/expr/ast", "engine/replay": "whystone/elsewhere", "engine/stats": "pgregory.net/rapid"} {
		if wrong(pkg, imported) == "" {
			t.Errorf("%s may import %s", pkg, imported)
		}
	}
	for pkg, imported := range map[string]string{"engine/apart": "whystone/kb/proofread", "cmd/whystone": "whystone/rulesets", "kb": "whystone/kb/doc",
		"kb/condition": "github.com/expr-lang/expr/parser", "engine/enginetest": "whystone/rulesets", "engine": "slices",
		"kb/doc": "whystone/kb/diag"} {
		if why := wrong(pkg, imported); why != "" {
			t.Errorf("%s may not import %s: %s", pkg, imported, why)
		}
	}
}
