package page

import (
	"bytes"
	"html"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"whystone/cmd/whystone/terminal"
	"whystone/engine"
	"whystone/engine/answers"
	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/kbtest"
	"whystone/kb/load"
	"whystone/kb/syntax"
)

func ruleset(t *testing.T, files fs.FS) *kb.Ruleset {
	t.Helper()
	rs, l := load.Load(t.Context(), []load.Layer{{Name: "desk", FS: files}})
	if rs == nil {
		t.Fatal(l)
	}
	return rs
}

// paper is the page of a case that is written in YAML.
func paper(t *testing.T, rs *kb.Ruleset, text string) string {
	t.Helper()
	var found diag.List
	docs := syntax.ParseYAML(diag.NewSource("case", []byte(text)), &found)
	if len(docs) != 1 {
		t.Fatal(found)
	}
	c := eval.CaseReader(rs).Read(docs[0], &found)
	if c == nil {
		t.Fatal(found)
	}
	e := engine.Prepare(rs)
	m := engine.Moment{On: time.Date(2031, 3, 4, 0, 0, 0, 0, time.UTC), DatedBy: engine.ByCase}
	told := terminal.Told{Ruleset: rs, Engine: e, Case: c, Moment: m, Explained: e.NewJudge().Explain(c, m)}
	var b bytes.Buffer
	if err := Write(&b, []Case{Of(answers.New(e), told, "31:abc", "")}); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

const asked = `{format: 1, case: '<A & B>', claim: diamond, taken: '2031-03-04', desk: front, by: Anna Bell, stake: 2600,
  stone: {mounted: true, setting: four claws, carat: 0.88, length_mm: 6.4, width_mm: 6.45, depth_mm: 3.9, cut: round brilliant},
  readings: {thermal_probe: diamond range, specific_gravity: 3.52}}`

// TestPageStandsAlone: no network, no script; which stone, who judged it, what was read and what was not, why, the
// whole chain, and a line to sign are there; the same bytes again.
func TestPageStandsAlone(t *testing.T) {
	rs := ruleset(t, os.DirFS("../testdata/desk"))
	text := paper(t, rs, asked)
	if m := regexp.MustCompile(`(?i)(https?:)?//[a-z]|<script|<link|@import|url\(`).FindString(text); m != "" {
		t.Errorf("the page asks for %q", m)
	}
	for _, want := range []string{"&lt;A &amp; B&gt;", "scheme: dark", "@media print", "counter(page)",
		"default-src 'none'", "0.88 ct", "6.4 × 6.45 × 3.9 mm", "mounted, four claws", "round brilliant", "2,600 EUR",
		"4 March 2031", "<dd>front</dd>", "<dd>Anna Bell</dd>", "Signed: Anna Bell", "thermal probe", "diamond range",
		"Not tested: double refraction, ", "To say to the customer", rs.Digest, "Casebook <code>31:abc</code>",
		"The whole chain", "the house's opinion on the readings given, and no laboratory report"} {
		if !strings.Contains(text, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if strings.Contains(text, "thermal_probe") {
		t.Error("the page shows a name of the files")
	}
	if paper(t, rs, asked) != text {
		t.Error("the same case gives another page")
	}
}

// TestNoSentenceTwice: what is printed of any demo case tells each reason once; and what is said to the customer.
func TestNoSentenceTwice(t *testing.T) {
	rs := ruleset(t, os.DirFS(filepath.Join(kbtest.Root(t), "rulesets", "diamond-desk")))
	files, _ := filepath.Glob(filepath.Join(kbtest.Root(t), "testdata", "demo", "*.yaml"))
	if len(files) < 10 {
		t.Fatal(files)
	}
	sentences := ""
	item := regexp.MustCompile(`(?s)<(?:li|dd|p)[^>]*>([^<]*)`)
	for _, file := range files {
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		text, _, _ := strings.Cut(paper(t, rs, string(b)), "<details>")
		_, customer, _ := strings.Cut(text, "To say to the customer</h2>\n<p>")
		customer, _, _ = strings.Cut(customer, "</p>")
		sentences += filepath.Base(file) + "\n" + html.UnescapeString(customer) + "\n\n"
		_, reasons, _ := strings.Cut(text, "<h2>Why</h2>")
		told := map[string]bool{}
		for _, m := range item.FindAllStringSubmatch(reasons, -1) {
			if says := html.UnescapeString(strings.TrimSpace(m[1])); says != "" && told[says] {
				t.Errorf("%s: %q is told twice", filepath.Base(file), says)
			} else {
				told[says] = true
			}
		}
		if len(told) < 4 {
			t.Errorf("%s: only %d sentences", filepath.Base(file), len(told))
		}
	}
	kbtest.Golden(t, filepath.Join("testdata", "customer.golden"), sentences)
}
