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

// owners are the only packages that may import a library, so that another could take its place.
var owners = map[string][]string{
	"github.com/spf13/viper":            {"cmd/whystone/config"},
	"github.com/expr-lang/expr":         {"kb/condition"},
	"github.com/fsnotify/fsnotify":      {"kb/reload"},
	"github.com/parquet-go/parquet-go":  {"engine/archive"},
	"go.yaml.in/yaml/v4":                {"kb/syntax"},
	"github.com/gowebpki/jcs":           {"kb/load", "cmd/whystone/casebook"},
	"github.com/spf13/cobra":            {"cmd/whystone"},
	"github.com/schollz/progressbar/v3": {"cmd/whystone"},
	"github.com/aymanbagabas/go-udiff":  {"cmd/whystone"},
	"golang.org/x/text/width":           {"kb/diag"},
	// the latter for its codes
	"modernc.org/sqlite":                    {"cmd/whystone/database", "cmd/whystone/casebook/sqlite"},
	"gonum.org/v1/gonum":                    {"engine/next"},
	"golang.org/x/crypto":                   {"cmd/whystone/users"},
	"github.com/google/go-cmp/cmp":          nil, // tests alone
	"github.com/chromedp":                   nil,
	"pgregory.net/rapid":                    nil,
	"github.com/rogpeppe/go-internal":       nil,
	"github.com/santhosh-tekuri/jsonschema": nil,
}

// forTests are the packages that only tests, and each other, may import; they take what libraries they need.
var forTests = []string{"kb/kbtest", "kb/load/loadtest", "kb/internal/want", "kb/internal/emit", "engine/enginetest",
	"cmd/whystone/casebook/storetest", "cmd/whystone/users/storetest"}

// TestEachLibraryHasItsOwner looks at what every file imports, tests left out. That imports go down is held in
// kb/kbtest.
func TestEachLibraryHasItsOwner(t *testing.T) {
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
	for library, by := range owners {
		within := imported == library || strings.HasPrefix(imported, library+"/")
		if within && !slices.Contains(by, pkg) && !slices.Contains(forTests, pkg) {
			return "that is for tests, or for " + english.List(by, "and")
		}
	}
	return ""
}

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

// TestWrongOwners: what TestEachLibraryHasItsOwner is to find, it finds.
func TestWrongOwners(t *testing.T) {
	for pkg, imported := range map[string]string{"cmd/whystone/terminal": "github.com/spf13/viper",
		"kb/casefile": "go.yaml.in/yaml/v4", "kb/sat": "github.com/expr-lang/expr/ast",
		"engine/stats": "pgregory.net/rapid"} {
		if wrong(pkg, imported) == "" {
			t.Errorf("%s may import %s", pkg, imported)
		}
	}
	for pkg, imported := range map[string]string{"kb/condition": "github.com/expr-lang/expr/parser",
		"engine": "slices"} {
		if why := wrong(pkg, imported); why != "" {
			t.Errorf("%s may not import %s: %s", pkg, imported, why)
		}
	}
}
