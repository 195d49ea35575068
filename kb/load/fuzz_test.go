package load_test

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"pgregory.net/rapid"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/load"
	"whystone/kb/load/loadtest"
	"whystone/kb/syntax"
)

// FuzzBuild: whatever a house's file says, building ends in a ruleset or in refusals with known codes that lie in a
// text; the same each time; and what was built runs.
func FuzzBuild(f *testing.F) {
	names, err := filepath.Glob("testdata/*/*.yaml")
	if err != nil || len(names) == 0 {
		f.Fatal("no seeds", err)
	}
	shipped, err := filepath.Glob("../../rulesets/*/*.yaml")
	if err != nil {
		f.Fatal(err)
	}
	for _, name := range append(names, shipped...) {
		text, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	f.Add([]byte("format: 1\nrules: [{rule: r, says: x, if: \"ri > 1\", establishes: {a: true, b: word, c: {is: " +
		"ri}}, unless: a}]\nretires: [{rule: wet-stone, because: x}]\n"))
	f.Add([]byte("format: 1\npolicy: {unlisted: 1e-300, priors: {glass: 1e-300}, strength: {weak: 1e12}, " +
		"instruments: [{instrument: a, test: weighing, limits: [1, 2]}]}\n"))
	for _, text := range []string{beryls, spoiling, weighed} {
		f.Add([]byte(text))
	}
	base := load.ReadFiles(f.Context(), loadtest.Stack(loadtest.Small(f, nil), nil), &diag.List{})
	f.Fuzz(func(t *testing.T, text []byte) { checkBuild(t, base, text) })
}

// failer is what fails a test of either kind.
type failer interface {
	Helper()
	Fatalf(format string, args ...any)
}

// checkBuild builds the small ruleset with one more file above it, twice, and uses what comes of it.
func checkBuild(t failer, base []kb.File, text []byte) *kb.Ruleset {
	t.Helper()
	build := func() (*kb.Ruleset, diag.List) {
		return load.Build(append(base[:len(base):len(base)], kb.File{Layer: "house", Path: "house.yaml",
			Source: diag.NewSource("house/house.yaml", text)}))
	}
	rs, out := build()
	again, other := build()
	if (rs == nil) != out.HasErrors() || (again == nil) != (rs == nil) || out.Error() != other.Error() {
		t.Fatalf("built %t and then %t:\n%s\n\n%s", rs != nil, again != nil, out.Error(), other.Error())
	}
	for _, d := range out {
		checkFinding(t, d)
	}
	if rs == nil {
		return nil
	}
	if rs.Digest != again.Digest {
		t.Fatalf("built twice, it has two digests")
	}
	useRuleset(t, rs)
	return rs
}

// TestRandomEdits makes the mistakes that a text editor makes of words: one is left out, put twice, or changed for
// another that stands elsewhere in such files. Unlike random bytes most of what comes of it is YAML, and much of it a
// ruleset.
func TestRandomEdits(t *testing.T) {
	names, err := filepath.Glob("testdata/*/*.yaml")
	if err != nil || len(names) == 0 {
		t.Fatal("no seeds", err)
	}
	parts := regexp.MustCompile(`[A-Za-z0-9_.-]+|[^A-Za-z0-9_.-]`)
	pool := []string{"null", "~", "[]", "{}", "true", "-1", "1e308", "1e-308", `""`, "'x'", "[x]", "{x: y}", "0", "|",
		">", "&a", "*a", "!t", "# ", "\t", "not ", " and ri > 1"}
	var files [][]string
	for _, name := range names {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		words := parts.FindAllString(withoutWants.ReplaceAllString(string(text), ""), -1)
		files = append(files, words)
		pool = append(pool, words...)
	}
	base := load.ReadFiles(t.Context(), loadtest.Stack(loadtest.Small(t, nil), nil), &diag.List{})
	built := 0
	edit := func(t *rapid.T) {
		// A file of the small ruleset is edited in its place, any other is laid above it.
		file := rapid.IntRange(0, len(files)-1).Draw(t, "file")
		if rapid.IntRange(0, 2).Draw(t, "of the small ruleset") > 0 {
			file = len(files) - 1 - file%4 // its files come last
		}
		words, at := slices.Clone(files[file]), filepath.Base(names[file])
		if filepath.Base(filepath.Dir(names[file])) != "small" {
			at = ""
		}
		for range rapid.IntRange(1, 4).Draw(t, "edits") {
			i := rapid.IntRange(0, len(words)-1).Draw(t, "at")
			switch rapid.IntRange(0, 3).Draw(t, "edit") {
			case 0:
				words[i] = ""
			case 1:
				words[i] += words[i]
			default:
				words[i] = rapid.SampledFrom(pool).Draw(t, "word")
			}
		}
		if checkBuild(t, slices.DeleteFunc(slices.Clone(base), func(f kb.File) bool { return f.Path == at }),
			[]byte(strings.Join(words, ""))) != nil {
			built++
		}
	}
	each := 1
	if testing.Short() {
		each = 5 // as there are a fifth as many checks
	}
	rapid.Check(t, func(t *rapid.T) {
		for range each {
			edit(t)
		}
	})
	if built == 0 {
		t.Error("nothing that was edited could be built: the edits are too coarse to test anything")
	}
}

func checkFinding(t failer, d diag.Diagnostic) {
	t.Helper()
	if !diag.Known(d.Code) || d.Summary == "" {
		t.Fatalf("the code %q with %q", d.Code, d.Summary)
	}
	if d.Span.IsZero() {
		return
	}
	length := len(d.Span.Source.Text)
	if d.Span.Start < 0 || d.Span.End < d.Span.Start || d.Span.End > length {
		t.Fatalf("%s lies at %d-%d of %d", d.Code, d.Span.Start, d.Span.End, length)
	}
	if utf8.Valid(d.Span.Source.Text) && !utf8.ValidString(d.Span.Text()) {
		t.Fatalf("%s cuts a letter: %q", d.Code, d.Span.Text())
	}
}

// useRuleset does with a ruleset what everything above it does, on cases of which little or much is known.
func useRuleset(t failer, rs *kb.Ruleset) {
	t.Helper()
	failed := loadtest.CheckExamples(rs, time.Date(2031, 4, 12, 0, 0, 0, 0, time.UTC))
	for _, d := range failed {
		checkFinding(t, d)
	}
	run := eval.New(rs)
	for _, text := range []string{"{case: a}",
		"{case: b, readings: {ri: [1.544, 1.553], specific_gravity: 2.65}, stone: {wet: true, mounted: false, carat: " +
			"1}, claim: diamond}"} {
		var out diag.List
		c := eval.CaseReader(rs).Read(syntax.ParseYAML(diag.NewSource("case", []byte(text)), &out)[0], &out)
		if c == nil {
			continue // its words are none of this ruleset's
		}
		run.Do(c, loadtest.Day)
		for _, r := range rs.Order {
			run.Causes(r)
		}
	}
	for _, p := range rs.Priors() {
		if !(p >= 0) || p > 1 {
			t.Fatalf("a prior is %v", p)
		}
	}
	for _, w := range rs.ClaimWords() {
		if c := rs.Claim(w); c == nil || c.Means(rs) == nil {
			t.Fatalf("the claim %q means nothing", w)
		}
	}
}
