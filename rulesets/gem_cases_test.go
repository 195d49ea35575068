package rulesets_test

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"
)

// gemCases are the textbook separations, by file.
func gemCases(t testing.TB) map[string][]expectedCase {
	t.Helper()
	paths, err := filepath.Glob("../testdata/gem-desk/*.yaml")
	if err != nil || len(paths) < 6 {
		t.Fatalf("%d files of separations (%v)", len(paths), err)
	}
	out := map[string][]expectedCase{}
	for _, path := range paths {
		out[strings.TrimSuffix(filepath.Base(path), ".yaml")] = expectedCases(t, path)
	}
	return out
}

// A textbook separation comes out as textbooks have it, and a third of them without a name, as on a bench.
func TestTextbookSeparations(t *testing.T) {
	rs := gemDesk(t)
	total, open := 0, 0
	for file, cases := range gemCases(t) {
		for _, c := range cases {
			total++
			t.Run(file+"/"+fmt.Sprint(c.Case["case"]), func(t *testing.T) {
				if c.Expects.Source == "" {
					t.Error("it names no source, not even memory")
				}
				o := judgeExpected(t, rs, gemJudge(t), c)
				if o.Verdict != "identified" {
					open++
				}
				if wrong := c.misnamed(rs, o); wrong != "" {
					t.Errorf("it is named %s, and may only be named %v", wrong, c.Expects.Named)
				}
				c.check(t, rs, o)
				if t.Failed() {
					t.Logf("%s\n%s", c.Expects.Why, o.lines())
				}
			})
		}
	}
	t.Logf("%d separations, %d of them without a name", total, open)
	if total < 100 || open*3 < total {
		t.Errorf("%d separations, %d without a name: there should be 100, a third of them without", total, open)
	}
}
