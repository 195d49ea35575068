package desk

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"whystone/cmd/whystone/users"
)

// axe is the script of axe-core 4.14.1 (the npm package of that name, file axe.min.js, MPL 2.0; its licence lies beside
// it), by which pages are checked against WCAG 2.2 AA. It is in no program.
const axeSum = "29348999450cdf2849a8e70b7912fc2da85a849da39c0d0d5394f51d4a9ed95c"

func axe(t *testing.T) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("testdata", "axe-core", "axe.min.js"))
	if err != nil {
		t.Fatal(err)
	}
	if sum := sha256.Sum256(text); hex.EncodeToString(sum[:]) != axeSum {
		t.Fatal("axe.min.js is not the one that is named here")
	}
	return string(text)
}

// violation is what axe finds.
type violation struct {
	ID    string `json:"id"`
	Help  string `json:"help"`
	Nodes []struct {
		HTML    string `json:"html"`
		Target  []any  `json:"target"`
		Summary string `json:"failureSummary"`
	} `json:"nodes"`
}

// violations checks the page that is open.
func (w *window) violations() []violation {
	w.t.Helper()
	raw, err := chromedp.Run(w.ctx, chromedp.Evaluate[string](`axe.run({runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}).then(r => JSON.stringify(r.violations))`, chromedp.EvalAwaitPromise))
	w.ok(err)
	var out []violation
	w.ok(json.Unmarshal([]byte(raw), &out))
	return out
}

// opened are pages in a state that no address alone gives: with the form of a test, say.
func opened(number string) []string {
	return []string{"/cases/" + number + "?test=refractometer", "/cases/" + number + "?test=thermal-probe",
		"/cases/" + number + "?test=spectroscope", "/cases/" + number + "?did=2", "/cases/" + number + "?correct=2",
		"/cases/" + number + "?test=nothing+so", "/cases/" + number + "/why-not?material=glass",
		"/cases/" + number + "/what-if?without=2", "/cases?q=nothing", "/cases?q=x%3Dy", "/nothing"}
}

// TestEveryPageIsAccessible: axe finds nothing on any page of the route table, in both themes and two widths, with
// everything that can be opened open.
func TestEveryPageIsAccessible(t *testing.T) {
	h := newHouse(t)
	w := h.open().signIn(users.Administrator)
	number := h.diamond()
	h.as(users.Staff).post("/cases/"+number+"/issue", "seen", "2", "ruleset", h.now().Ruleset.Digest)
	h.archived()
	h.as(users.Staff).send("/cases/"+number+"/photographs", "photograph", "a.jpg", photographOf(t), ofThePhotograph...)
	script := axe(t)
	paths := opened(number)
	for _, rt := range routes {
		if rt.Method == http.MethodGet && rt.Pattern != "/changes" && rt.Pattern != "/health" {
			paths = append(paths, pathOf(t, rt, number))
		}
	}
	for _, path := range paths {
		w.goTo(path)
		w.run(chromedp.Evaluate[chromedp.Void](script),
			chromedp.Evaluate[chromedp.Void](`for (const d of document.querySelectorAll("details")) d.open = true`))
		w.looks(func(name string) {
			for _, v := range w.violations() {
				for _, n := range v.Nodes {
					t.Errorf("%s, %s: %s: %s\n%s\n%s", path, name, v.ID, v.Help, n.HTML,
						strings.ReplaceAll(n.Summary, "\n", " "))
				}
			}
		})
	}
}
