package terminal

import (
	"os"
	"strings"
	"testing"

	"whystone/cmd/whystone/catalog"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/load"
)

// TestNamesCanBeAskedFor: every name that is listed, with its own words, goes into the forms that are shown for its
// kind.
func TestNamesCanBeAskedFor(t *testing.T) {
	rs, found := load.Load(t.Context(), []load.Layer{{Name: "shipped", FS: os.DirFS("../../../rulesets/diamond-desk")}})
	if rs == nil {
		t.Fatal(found)
	}
	compiled := map[string]int{}
	for _, n := range catalog.Names(rs) {
		word, another := "round", "oval"
		if len(n.Outcomes) > 0 {
			word, another = n.Outcomes[0].Name, n.Outcomes[len(n.Outcomes)-1].Name
		}
		for _, a := range asked {
			switch strings.ToLower(a.label) {
			case n.Kind, "any of them":
			case "a reading":
				if n.Of != catalog.Observable {
					continue
				}
			default:
				continue
			}
			for _, c := range a.conditions {
				text := strings.NewReplacer(`"word"`, `"`+word+`"`, `"another"`, `"`+another+`"`, "in x", "in "+n.Name,
					"(x", "("+n.Name, "x ", n.Name+" ").Replace(c)
				if c == "x" || c == "not x" {
					text = strings.Replace(c, "x", n.Name, 1)
				}
				var wrong diag.List
				if condition.Compile(text, func(int, int) diag.Span { return diag.Span{} }, rs.Scope,
					&wrong); wrong.HasErrors() {
					t.Errorf("%s: %v", text, wrong)
				}
				compiled[a.label]++
			}
		}
	}
	for _, a := range asked {
		if compiled[a.label] < len(a.conditions) {
			t.Errorf("nothing is asked for as %s", a.label)
		}
	}
}

// TestNamesFit: nothing goes beyond the width.
func TestNamesFit(t *testing.T) {
	rs, found := load.Load(t.Context(), []load.Layer{{Name: "shipped", FS: os.DirFS("../../../rulesets/diamond-desk")}})
	if rs == nil {
		t.Fatal(found)
	}
	for _, width := range []int{60, 80, 120} {
		for line := range strings.Lines(written(t, width, func(p *Printer) { p.Names(rs, catalog.Names(rs)) })) {
			if n := cellsOf(strings.TrimSuffix(line, "\n")); n > width {
				t.Errorf("%d cells at %d: %q", n, width, line)
			}
		}
	}
}
