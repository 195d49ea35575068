package next

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"whystone/engine"
	"whystone/engine/enginetest"
	"whystone/kb/casefile"
	"whystone/kb/kbtest"
)

// TestNoBannedWords reads every sentence of the advice on the demo cases.
func TestNoBannedWords(t *testing.T) {
	e := engine.Prepare(loaded(t))
	a := New(e)
	var authors []string
	for _, r := range e.Ruleset.Rules {
		authors = append(authors, strings.TrimRight(r.Says, ". "))
	}
	for _, x := range e.Ruleset.Tests {
		for _, n := range x.Needs {
			authors = append(authors, strings.TrimSuffix(n.Says, "."))
		}
	}
	tried := 0
	each(demoCases(t, e.Ruleset), func(name string, c *casefile.Case) {
		got := a.Next(c, noon, Options{})
		says := []string{got.Says, got.Now.Says}
		for _, s := range got.Tests {
			says = append(says, s.Says)
			for _, o := range s.Outcomes {
				says = append(says, o.To.Says)
			}
		}
		for _, list := range [][]NotDone{got.Harmful, got.Infeasible, got.Forbidden} {
			for _, n := range list {
				says = append(says, n.Says)
			}
		}
		for _, r := range got.Repeat {
			says = append(says, r.Says)
		}
		for _, s := range says {
			tried++
			for _, w := range authors {
				s = strings.ReplaceAll(s, w, "...")
			}
			if bad := enginetest.Banned(s); len(bad) > 0 || strings.Contains(s, "%!") {
				t.Errorf("%s: %q says %q", name, s, bad)
			}
		}
	})
	if tried < 500 {
		t.Errorf("only %d sentences", tried)
	}
}

// TestGolden pins the advice on a few demo cases.
func TestGolden(t *testing.T) {
	e := engine.Prepare(loaded(t))
	a := New(e)
	cases := demoCases(t, e.Ruleset)
	var b strings.Builder
	for _, name := range []string{"02-household-tests", "03-growth-stays-open", "05-index-against-weight"} {
		got := a.Next(cases[name], noon, Options{})
		fmt.Fprintf(&b, "== %s\n%s: %s\n", name, got.Action, got.Says)
		for _, s := range got.Tests[:3] {
			fmt.Fprintf(&b, "  %s\n", s.Says)
			for _, o := range s.Outcomes[:min(6, len(s.Outcomes))] {
				fmt.Fprintf(&b, "    %s: %s\n", o.Outcome, o.To.Says)
			}
		}
		for _, r := range got.Repeat {
			fmt.Fprintf(&b, "  %s\n", r.Says)
		}
		for _, n := range got.Harmful[:2] {
			fmt.Fprintf(&b, "  %s\n", n.Says)
		}
	}
	kbtest.Golden(t, filepath.Join("testdata", "advice.golden"), b.String())
}
