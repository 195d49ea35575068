package phrase

import (
	"encoding/json"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"math"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"whystone/engine/enginetest"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/logic"
	"whystone/kb/vocab"
)

var placeForm = regexp.MustCompile(`\{([^{}]*)\}`)

// full is a reason that has everything that a code may be about.
func full() Reason {
	m := &kb.Material{ID: "topaz", Name: "topaz"}
	m.Species = m
	o := &vocab.Observable{Name: "ri"}
	return Reason{Node: m, Other: m, Nodes: []*kb.Material{m}, Rules: []*kb.Rule{{ID: "a-rule", Says: "So it is."}},
		Tests: []*kb.Test{{ID: "loupe", Name: "loupe"}}, Readings: []*casefile.Reading{{Observable: o,
			Form: casefile.Value, Value: 1.62, U: 0.001}},
		Observables: []string{"ri"}, Families: []string{"refraction"},
		Causes: []logic.Cause{{Name: "ri", Why: logic.Absent}}, Ratio: 3, Needed: 10, Count: 2, Of: 5, Text: "text",
		Range: &kb.Range{Low: 1, High: 2}, Why: &Reason{Code: Identified, Node: m},
		Then: []Reason{{Code: SecondReading}}}
}

// TestEveryCode fills the words of every code: each place is one that can be filled, and no place stays.
func TestEveryCode(t *testing.T) {
	if len(Table()) < 150 {
		t.Fatalf("only %d codes", len(Table()))
	}
	for _, e := range Table() {
		for _, found := range placeForm.FindAllStringSubmatch(e.Says+e.Within, -1) {
			place := strings.ToLower(found[1])
			r := full()
			if filled := placed(place)(&r); filled == "" || filled == place && place != "text" {
				t.Errorf("%s: nothing fills %q", e.Code, place)
			}
		}
		r := full()
		r.Code = e.Code
		if says := r.Says() + r.Within(); strings.ContainsAny(says, "{}") || strings.Contains(says, "..") ||
			strings.Contains(says, "  ") {
			t.Errorf("%s: %q is badly put together", e.Code, says)
		}
		if bad := enginetest.Banned(e.Says + " " + e.Within); bad != nil {
			t.Errorf("%s says %q", e.Code, bad)
		}
	}
}

// TestOwnWordsStayAsWritten: what a house wrote is shown byte for byte, whatever it looks like.
func TestOwnWordsStayAsWritten(t *testing.T) {
	own := "fill in form intake_sheet_v2 at the uv corner, and mail it to stone.desk or notes_for_lab.pdf!"
	r := full()
	r.Rules, r.Text = []*kb.Rule{{ID: "a-rule", Says: own}}, own
	seen := 0
	for _, e := range Table() {
		if r.Code = e.Code; strings.Contains(e.Says, "{own words}") || strings.Contains(e.Says, "{text}") {
			seen++
			if says := r.Says(); !strings.Contains(says, own) {
				t.Errorf("%s: %q", e.Code, says)
			}
		}
	}
	if seen < 20 {
		t.Errorf("only %d codes have words of somebody's own", seen)
	}
}

// TestValues: as data a reason has what it is about and no more; what has no sheet of its own goes by its group's id,
// and a ratio without an end is a number all the same.
func TestValues(t *testing.T) {
	group := &kb.Material{ID: "corundum", Name: "corundum"}
	other := &kb.Material{ID: "corundum:laboratory-grown", Name: "other laboratory-grown corundum", Parent: group,
		Other: true}
	topaz := &kb.Material{ID: "topaz", Name: "topaz"}
	for _, x := range []struct {
		r    Reason
		want string
	}{
		{Reason{Code: Consistent}, `{"says":"the readings can be true together","code":"consistent"}`},
		{Reason{Code: RivalAlike, Node: topaz, Other: other, Ratio: 1},
			`{"says":"the readings fit other laboratory-grown corundum as well as topaz","code":"rival-alike","node":"topaz","other":"corundum","value":1}`},
		{Reason{Code: RivalBehind, Node: topaz, Other: group, Ratio: math.Inf(1), Needed: 10},
			`{"says":"the readings are over 1,000,000,000 times likelier on topaz than on corundum; 10 times are needed","code":"rival-behind","node":"topaz","other":"corundum","value":1.7976931348623157e+308,"needed":10}`},
		{Reason{Code: Withheld, Node: topaz, Rules: []*kb.Rule{{ID: "a-rule", Says: "Look first."}},
			Then: []Reason{{Code: Lift, Tests: []*kb.Test{{ID: "loupe", Name: "a loupe"}}}}},
			`{"says":"topaz is not named yet: Look first. What may settle that: a loupe.","code":"withheld","node":"topaz","rules":["a-rule"],"tests":["loupe"]}`},
	} {
		if got, err := json.Marshal(x.r.Told()); err != nil || string(got) != x.want {
			t.Errorf("%s\nwant\n%s\n%v", got, x.want, err)
		}
	}
}

// TestEveryCodeIsYielded: a code that nothing yields is dead.
func TestEveryCodeIsYielded(t *testing.T) {
	used := map[string]bool{}
	eachFile(t, func(name string, f *ast.File) {
		inside := f.Name.Name == "phrase"
		ast.Inspect(f, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.SelectorExpr:
				if x, ok := n.X.(*ast.Ident); ok && x.Name == "phrase" {
					used[n.Sel.Name] = true
				}
			case *ast.FuncDecl:
				if inside {
					ast.Inspect(n, func(n ast.Node) bool {
						if x, ok := n.(*ast.Ident); ok {
							used[x.Name] = true
						}
						return true
					})
				}
			}
			return true
		})
	})
	for _, name := range codeNames(t) {
		if !used[name] {
			t.Errorf("nothing yields %s", name)
		}
	}
}

// codeNames are the names of the codes' variables.
func codeNames(t *testing.T) (names []string) {
	t.Helper()
	files, err := filepath.Glob("codes_*.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range files {
		f, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range f.Decls {
			for _, s := range d.(*ast.GenDecl).Specs {
				if name := s.(*ast.ValueSpec).Names[0].Name; name != "_" {
					names = append(names, name)
				}
			}
		}
	}
	return names
}

// eachFile parses what judges and what shows it, tests left out.
func eachFile(t *testing.T, f func(name string, file *ast.File)) {
	t.Helper()
	for _, root := range []string{"..", "../../cmd"} {
		err := filepath.WalkDir(root, func(name string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go") {
				return err
			}
			file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
			if err == nil {
				f(filepath.ToSlash(name), file)
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
}

// comparing are the files that tell what two verdicts or rulesets have otherwise: a house's own words are what they
// look at. The table's rows say by themselves what their table doesn't say.
var comparing = []string{"../drafts/compare.go", "../replay/difference.go", "../../cmd/whystone/following.go",
	"../../cmd/whystone/casebook_why.go", "../../cmd/whystone/terminal/table.go"}

// TestNoTextIsReadBack: nothing compares what was told, looks into it, or takes it as a key. Whether there is any may
// be asked.
func TestNoTextIsReadBack(t *testing.T) {
	files := 0
	eachFile(t, func(name string, file *ast.File) {
		files++
		if slices.Contains(comparing, name) || strings.Contains(name, "/diff/") {
			return
		}
		ast.Inspect(file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.BinaryExpr:
				if (n.Op == token.EQL || n.Op == token.NEQ) && (told(n.X) && !empty(n.Y) || told(n.Y) && !empty(n.X)) {
					t.Errorf("%s compares a text", name)
				}
			case *ast.IndexExpr:
				if told(n.Index) {
					t.Errorf("%s takes a text as a key", name)
				}
			case *ast.CallExpr:
				if fun, ok := n.Fun.(*ast.SelectorExpr); ok && looksInto[fun.Sel.Name] &&
					slices.ContainsFunc(n.Args, told) {
					t.Errorf("%s looks into a text with %s", name, fun.Sel.Name)
				}
			}
			return true
		})
	})
	if files < 100 {
		t.Errorf("only %d files", files)
	}
}

var looksInto = map[string]bool{"Contains": true, "HasPrefix": true, "HasSuffix": true, "Cut": true, "CutPrefix": true,
	"CutSuffix": true, "Index": true, "TrimPrefix": true, "TrimSuffix": true, "TrimRight": true, "TrimLeft": true,
	"Trim": true, "Replace": true, "ReplaceAll": true, "ToLower": true, "EqualFold": true, "FindString": true,
	"MatchString": true, "ReplaceAllString": true}

// told tells of an expression that is a text which was made to be shown.
func told(e ast.Expr) bool {
	made := []string{"Says", "Sentence"}
	if call, ok := e.(*ast.CallExpr); ok {
		e, made = call.Fun, []string{"Says", "Sentence", "Sentences", "Within", "claimSays", "inShort"}
	}
	s, ok := e.(*ast.SelectorExpr)
	return ok && slices.Contains(made, s.Sel.Name)
}

func empty(e ast.Expr) bool {
	l, ok := e.(*ast.BasicLit)
	return ok && l.Value == `""`
}

// TestSome: one more than is asked for is named rather than counted, as "1 more" is no shorter than a name.
func TestSome(t *testing.T) {
	list := []string{"a", "b", "c", "d"}
	for n, want := range map[int]string{1: "a and 3 more", 2: "a, b and 2 more", 3: "a, b, c, d", 4: "a, b, c, d"} {
		if got := Some(list, n); got != want {
			t.Errorf("%d of four: %q, want %q", n, got, want)
		}
	}
}

// TestArticle: a substance is named as it is, and what is counted with an article.
func TestArticle(t *testing.T) {
	for name, want := range map[string]string{"garnet-topped doublet": "a garnet-topped doublet",
		"assembled stone": "an assembled stone", "opal doublet or triplet": "an opal doublet or triplet",
		"resin imitation of ivory":    "a resin imitation of ivory",
		"pearl (natural or cultured)": "a pearl (natural or cultured)",
		"composite of ruby and glass": "a composite of ruby and glass", "cubic zirconia": "cubic zirconia",
		"mother-of-pearl": "mother-of-pearl", "a stone consistent with diamond": "a stone consistent with diamond",
		"ivory of another animal": "ivory of another animal", "magnesite, dyed": "magnesite, dyed",
		"glass (imitation of jade)": "glass (imitation of jade)"} {
		if got := article(name); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
