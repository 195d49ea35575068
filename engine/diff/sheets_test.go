package diff_test

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"whystone/engine/diff"
	"whystone/kb"
	"whystone/kb/load"
)

// files is the tests' small ruleset, to be changed.
func files(t *testing.T) fstest.MapFS {
	t.Helper()
	out := fstest.MapFS{}
	for _, name := range []string{"policy.yaml", "materials.yaml", "tests.yaml", "rules.yaml"} {
		text, err := os.ReadFile(filepath.Join("..", "..", "cmd", "whystone", "testdata", "desk", name))
		if err != nil {
			t.Fatal(err)
		}
		out[name] = &fstest.MapFile{Data: text}
	}
	return out
}

// built is the ruleset of the files, and of a house's layer above if there are more.
func built(t *testing.T, fs ...fstest.MapFS) *kb.Ruleset {
	t.Helper()
	layers := []load.Layer{{Name: "desk", FS: fs[0]}}
	for _, f := range fs[1:] {
		layers = append(layers, load.Layer{Name: "house", FS: f})
	}
	rs, found := load.Load(context.Background(), layers)
	if rs == nil {
		t.Fatal(found)
	}
	return rs
}

// replaced is a file with a text in another's place; the text must be there.
func replaced(t *testing.T, fs fstest.MapFS, name, old, new string) {
	t.Helper()
	text := string(fs[name].Data)
	if !strings.Contains(text, old) {
		t.Fatalf("%s does not hold %q", name, old)
	}
	fs[name] = &fstest.MapFile{Data: []byte(strings.Replace(text, old, new, 1))}
}

func TestRulesets(t *testing.T) {
	flame := "  - rule: flame-proves-nothing\n"
	for _, c := range []struct {
		says string
		edit func(fs fstest.MapFS)
		want string
	}{
		{"nothing", func(fstest.MapFS) {}, ""},
		{"a comment", func(fs fstest.MapFS) { replaced(t, fs, "rules.yaml", "rules:\n", "rules: # of the desk\n") },
			""},
		{"the order of keys", func(fs fstest.MapFS) {
			replaced(t, fs, "rules.yaml", "{materials: [cubic-zirconia], strength: weak}",
				"{strength: weak, materials: [cubic-zirconia]}")
		}, ""},
		{"another file", func(fs fstest.MapFS) { fs["b/rules.yaml"] = fs["rules.yaml"]; delete(fs, "rules.yaml") }, ""},
		{"a rule changed", func(fs fstest.MapFS) {
			replaced(t, fs, "rules.yaml", "strength: weak",
				"strength: moderate")
		},
			"rule dense-and-dark changed desk/rules.yaml:9:5"},
		{"a rule added", func(fs fstest.MapFS) {
			replaced(t, fs, "rules.yaml", flame, "  - {rule: new-one, says: New., cautions: New., source: invented}\n"+
				flame)
		}, "rule new-one added desk/rules.yaml:21:6"},
		{"a rule renamed", func(fs fstest.MapFS) {
			replaced(t, fs, "rules.yaml", flame,
				"  - rule: fire-proves-nothing\n")
		},
			"rule fire-proves-nothing added desk/rules.yaml:21:5, rule flame-proves-nothing removed " +
				"desk/rules.yaml:21:5"},
		{"a figure of a material, and of the policy", func(fs fstest.MapFS) {
			replaced(t, fs, "materials.yaml", "[5.6, 6.0]", "[5.6, 6.1]")
			replaced(t, fs, "policy.yaml", "share: 0.95", "share: 0.96")
		}, "material cubic-zirconia changed desk/materials.yaml:35:5, policy required changed desk/policy.yaml:16:3"},
	} {
		old, edited := files(t), files(t)
		c.edit(edited)
		if s := changes(built(t, old), built(t, edited)); s != c.want {
			t.Errorf("%s: got %q, want %q", c.says, s, c.want)
		}
	}
}

func changes(was, is *kb.Ruleset) string {
	var got []string
	for _, x := range diff.Rulesets(was, is) {
		got = append(got, x.What+" "+x.ID+" "+x.How+" "+x.At.String())
	}
	return strings.Join(got, ", ")
}

// TestTables: the rows of a table count by themselves, in whatever file they stand.
func TestTables(t *testing.T) {
	table := "format: 1\ntables:\n  - {table: t, says: x, columns: [ri], rows_from: t.csv}\n  - {table: u, says: x, " +
		"columns: [ri], rows: [{row: a, ri: above 2, cautions: x}]}\n"
	before := files(t)
	before["t.yaml"] = &fstest.MapFile{Data: []byte(table)}
	before["t.csv"] = &fstest.MapFile{Data: []byte("row,ri,cautions\na,above 1.5,x\nb,below 1.5,x\n")}
	after := files(t)
	after["t.yaml"] = &fstest.MapFile{Data: []byte(strings.Replace(table, "above 2,", "above 2.1,", 1))}
	after["t.csv"] = &fstest.MapFile{Data: []byte("row,ri,cautions\nb,below 1.5,x\nc,above 1.6,x\n")}
	if got := changes(built(t, before), built(t, before)); got != "" {
		t.Errorf("nothing changed, and %q", got)
	}
	want := "rule t-a removed desk/t.csv:2:1, rule t-c added desk/t.csv:3:1, rule u-a changed desk/t.yaml:4:53"
	if got := changes(built(t, before), built(t, after)); got != want {
		t.Errorf("%q\nwant %q", got, want)
	}
	after["t.yaml"] = &fstest.MapFile{Data: []byte(strings.Replace(table, "table: u, says: x", "table: u, says: y", 1))}
	after["t.csv"] = before["t.csv"]
	want = "rule u-a changed desk/t.yaml:4:53, table u changed desk/t.yaml:4:6"
	if got := changes(built(t, before), built(t, after)); got != want {
		t.Errorf("%q\nwant %q", got, want)
	}
}

// TestIDsAnywhere: a sheet is named by its id, wherever that stands in it.
func TestIDsAnywhere(t *testing.T) {
	rule := "format: 1\nrules:\n  - says: The form is filled in first.\n    rule: form-first\n    cautions: Fill it " +
		"in.\n"
	before, after := files(t), files(t)
	before["r.yaml"] = &fstest.MapFile{Data: []byte(rule)}
	after["r.yaml"] = &fstest.MapFile{Data: []byte(strings.Replace(rule, "Fill it in.", "Fill it in now.", 1))}
	if got, want := changes(built(t, before), built(t, after)), "rule form-first changed desk/r.yaml:4:5"; got != want {
		t.Errorf("%q\nwant %q", got, want)
	}
}

// TestRetired: to retire a rule is another thing than to say it anew, in the same layer too.
func TestRetired(t *testing.T) {
	house := func(text string) fstest.MapFS {
		return fstest.MapFS{"h.yaml": &fstest.MapFile{Data: []byte("format: 1\n" + text)}}
	}
	retires := built(t, files(t), house("retires: [{rule: flame-proves-nothing, because: Nobody does it here.}]\n"))
	says := built(t, files(t), house("rules: [{rule: flame-proves-nothing, replaces: flame-proves-nothing, because: "+
		"x, says: New., cautions: New., source: invented}]\n"))
	want := "retired rule flame-proves-nothing removed house/h.yaml:2:12, rule flame-proves-nothing added " +
		"house/h.yaml:2:10"
	if got := changes(retires, says); got != want {
		t.Errorf("%q\nwant %q", got, want)
	}
}
