package page

import (
	"bytes"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"whystone/engine"
	"whystone/engine/answers"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/load"
	"whystone/kb/syntax"
)

// TestPageStandsAlone: no network, no script; what was read, why, and the whole chain are there; the same bytes again.
func TestPageStandsAlone(t *testing.T) {
	rs, l := load.Load(t.Context(), []load.Layer{{Name: "desk", FS: os.DirFS("../testdata/desk")}})
	if rs == nil {
		t.Fatal(l)
	}
	e := engine.Prepare(rs)
	text := "{format: 1, case: '<A & B>', claim: diamond, taken: '2031-03-04', readings: {thermal_probe: diamond range, specific_gravity: 3.52}}"
	var found diag.List
	docs := syntax.ParseYAML(diag.NewSource("case", []byte(text)), &found)
	if len(docs) != 1 {
		t.Fatal(found)
	}
	c := eval.CaseReader(rs).Read(docs[0], &found)
	if c == nil {
		t.Fatal(found)
	}
	m := engine.Moment{On: time.Date(2031, 3, 4, 0, 0, 0, 0, time.UTC), DatedBy: "taken"}
	ex := e.NewJudge().Explain(c, m)
	page := func() string {
		var b bytes.Buffer
		if err := Write(&b, []Case{{Ruleset: rs, File: c, Explained: ex, Short: answers.New(e).Short(c, m, ex)}}); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	html := page()
	if m := regexp.MustCompile(`(?i)(https?:)?//[a-z]|<script|<link|@import|url\(`).FindString(html); m != "" {
		t.Errorf("the page asks for %q", m)
	}
	for _, want := range []string{"&lt;A &amp; B&gt;", "thermal probe", "diamond range", "scheme: dark", "@media print", "The whole chain", "not a laboratory report", "default-src 'none'"} {
		if !strings.Contains(html, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	// "diamond" claims a natural one, and nothing that was read tells how the stone grew.
	claimed := ex.Claim.Sentence
	if !strings.Contains(claimed, `"diamond"`) || !strings.Contains(html, strings.ReplaceAll(claimed, `"`, "&#34;")) {
		t.Errorf("the page does not say what becomes of the claim: %q", claimed)
	}
	if strings.Contains(html, "thermal_probe") {
		t.Error("the page shows a name of the files")
	}
	if page() != html {
		t.Error("the same case gives another page")
	}
}
