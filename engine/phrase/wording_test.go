package phrase

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"whystone/engine/enginetest"
	"whystone/kb"
	"whystone/kb/english"
)

// TestEveryTemplate tries every text in the packages that make up sentences against the list: whatever a template is
// filled with, its own words are clean.
func TestEveryTemplate(t *testing.T) {
	tried := 0
	for _, dir := range []string{".", "..", "../answers", "../next", "../next/feasible", "../separation"} {
		files, err := filepath.Glob(filepath.Join(dir, "*.go"))
		if err != nil {
			t.Fatal(err)
		}
		for _, file := range files {
			if strings.HasSuffix(file, "_test.go") {
				continue
			}
			for _, text := range literals(t, file) {
				if !strings.Contains(text, " ") {
					continue
				}
				tried++
				if bad := enginetest.Banned(strings.ReplaceAll(text, `"`, "")); len(bad) > 0 {
					t.Errorf("%s: %q says %q", file, text, bad)
				}
			}
		}
	}
	if tried < 100 {
		t.Errorf("only %d texts were found", tried)
	}
}

// literals lists the texts of a Go file, those of struct tags and imports aside.
func literals(t *testing.T, file string) []string {
	t.Helper()
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	f, err := parser.ParseFile(token.NewFileSet(), file, text, 0)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	ast.Inspect(f, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.ImportSpec:
			return false
		case *ast.Field:
			return n.Tag == nil
		case *ast.BasicLit:
			if n.Kind == token.STRING {
				if s, err := strconv.Unquote(n.Value); err == nil {
					out = append(out, s)
				}
			}
		}
		return true
	})
	return out
}

func TestNodes(t *testing.T) {
	group := &kb.Material{ID: "quartz", Name: "quartz", Group: true,
		InVerdicts: "consistent with quartz; natural or laboratory-grown not determined"}
	plain := &kb.Material{ID: "glass", Name: "glass", Group: true}
	leaf := &kb.Material{ID: "natural-diamond", Name: "natural diamond", InVerdicts: "diamond"}
	for _, x := range []struct{ got, want string }{
		{Node(group, 0), "quartz (natural or laboratory-grown)"},
		{Full(group, 0), "consistent with quartz (natural or laboratory-grown not determined)"},
		{Node(plain, 0), "glass"},
		{Node(leaf, 0), "natural diamond"},
		{english.List(Nodes([]*kb.Material{leaf, plain, group}, 0), "or"),
			"natural diamond, glass or quartz (natural or laboratory-grown)"},
		{Reason{Code: Identified, Node: group}.Within(),
			"identified as consistent with quartz (natural or laboratory-grown not determined)"},
		{Reason{Code: NarrowedTo, Nodes: []*kb.Material{plain, leaf}}.Within(), "narrowed to glass or natural diamond"},
		{Reason{Code: RulesFaulty}.Within(), "inconclusive, as a rule can't be evaluated"},
	} {
		if x.got != x.want {
			t.Errorf("%q, want %q", x.got, x.want)
		}
	}
}

// TestNames: a sentence needs a thing to be narrowed to; a list of ids says what is not determined.
func TestNames(t *testing.T) {
	group := func(inVerdicts string) *kb.Material {
		return &kb.Material{ID: "diamond", Name: "diamond", Group: true, InVerdicts: inVerdicts}
	}
	open := group("consistent with diamond; natural or laboratory-grown not determined")
	leaf := &kb.Material{ID: "natural-diamond", Name: "natural diamond",
		InVerdicts: "consistent with diamond; grown in the earth"}
	for _, x := range []struct {
		m                              *kb.Material
		node, id, narrowed, identified string
	}{
		{open, "diamond (natural or laboratory-grown)", "diamond (natural or laboratory-grown)",
			"narrowed to a stone consistent with diamond (natural or laboratory-grown not determined)",
			"identified as consistent with diamond (natural or laboratory-grown not determined)"},
		{group("consistent with diamond"), "a stone consistent with diamond", "diamond",
			"narrowed to a stone consistent with diamond", "identified as consistent with diamond"},
		{group("quartz; natural or laboratory-grown not determined"), "diamond (natural or laboratory-grown)",
			"diamond (natural or laboratory-grown)", "narrowed to quartz (natural or laboratory-grown not determined)",
			"identified as quartz (natural or laboratory-grown not determined)"},
		{group(""), "diamond", "diamond", "narrowed to diamond", "identified as diamond"},
		{leaf, "natural diamond", "natural-diamond", "narrowed to natural diamond", "identified as natural diamond"},
	} {
		narrowed := Reason{Code: NarrowedToOne, Node: x.m}.Within()
		identified := Reason{Code: Identified, Node: x.m}.Within()
		if Node(x.m, 0) != x.node || ID(x.m) != x.id || narrowed != x.narrowed || identified != x.identified {
			t.Errorf("%q, %q, %q, %q", Node(x.m, 0), ID(x.m), narrowed, identified)
		}
	}
}

// TestNamesFollowTheColour: red corundum is ruby, and the word is not used where another colour was read or none.
func TestNamesFollowTheColour(t *testing.T) {
	m := &kb.Material{ID: "corundum", Name: "corundum", Group: true, ByColour: []kb.ColourName{
		{Colours: 1, Says: "ruby; natural or laboratory-grown not determined"},
		{Says: "corundum; natural or laboratory-grown not determined"}}}
	leaf := &kb.Material{ID: "andradite", Name: "andradite", ByColour: []kb.ColourName{{Colours: 2,
		Says: "demantoid (andradite garnet)"}, {Says: "andradite garnet"}}}
	for _, x := range []struct {
		named   *kb.Material
		colours uint64
		want    string
	}{
		{m, 1, "identified as ruby (natural or laboratory-grown not determined)"},
		{m, 4, "identified as corundum (natural or laboratory-grown not determined)"},
		{m, 0, "identified as corundum (natural or laboratory-grown not determined)"},
		{leaf, 2, "identified as demantoid (andradite garnet)"},
		{leaf, 0, "identified as andradite"},
	} {
		if got := (Reason{Code: Identified, Node: x.named, Colours: x.colours}).Within(); got != x.want {
			t.Errorf("%s at %d: %q, want %q", x.named.ID, x.colours, got, x.want)
		}
		r := Reason{Code: NarrowedTo, Nodes: []*kb.Material{x.named, leaf}, Colours: x.colours}
		if got := r.Within(); strings.Contains(got, "ruby") != (x.named == m && x.colours == 1) {
			t.Errorf("%s at %d: %q", x.named.ID, x.colours, got)
		}
	}
}
