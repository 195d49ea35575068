package terminal

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"whystone/engine"
	"whystone/engine/enginetest"
	"whystone/engine/phrase"
	"whystone/engine/separation"
	"whystone/kb"
	"whystone/kb/load"
)

func reported(t *testing.T, rs *kb.Ruleset, lacks ...string) *separation.Report {
	t.Helper()
	table, err := separation.Build(t.Context(), engine.Prepare(rs), time.Date(2031, 4, 12, 12, 0, 0, 0, time.UTC))
	if err != nil {
		t.Fatal(err)
	}
	return table.Report(lacks)
}

func written(t *testing.T, width int, do func(*Printer)) string {
	t.Helper()
	var b bytes.Buffer
	p := New(&b, width, false)
	do(p)
	if err := p.Flush(); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// TestApartGolden pins the whole text; WHYSTONE_UPDATE=1 writes it anew.
func TestApartGolden(t *testing.T) {
	rs := desk(t)
	for name, lacks := range map[string][]string{"apart": nil, "apart-lacks": {"hydrostatic-weighing", "loupe",
		"refractometer"}} {
		got := written(t, 80, func(p *Printer) { p.Apart(rs, reported(t, rs, lacks...), false) })
		path := filepath.Join("testdata", name+".txt")
		if os.Getenv("WHYSTONE_UPDATE") == "1" {
			if err := os.MkdirAll("testdata", 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if got != string(want) {
			t.Errorf("%s:\n%s", name, got)
		}
	}
}

// TestApartInWords: no id, no word that verdicts keep from, nothing beyond the width; and with all, every pair is
// named.
func TestApartInWords(t *testing.T) {
	rs, found := load.Load(t.Context(), []load.Layer{{Name: "shipped", FS: os.DirFS("../../../rulesets/diamond-desk")}})
	if rs == nil {
		t.Fatal(found)
	}
	r := reported(t, rs, "refractometer", "prism-spectrometer", "hydrostatic-weighing", "optic-figure")
	for _, width := range []int{60, 80, 120} {
		text := written(t, width, func(p *Printer) { p.Apart(rs, r, false) })
		for line := range strings.Lines(text) {
			if n := cellsOf(strings.TrimSuffix(line, "\n")); n > width {
				t.Errorf("%d cells at %d: %q", n, width, line)
			}
		}
	}
	text := written(t, 400, func(p *Printer) { p.Apart(rs, r, true) })
	for line := range strings.Lines(text) {
		if bad := enginetest.Banned(line); bad != nil {
			t.Errorf("%v in %q", bad, line)
		}
	}
	for _, m := range rs.Leaves {
		if strings.Contains(m.ID, "-") && strings.Contains(text, m.ID) {
			t.Errorf("the id %s is told", m.ID)
		}
	}
	for _, b := range slices.Concat(r.Buys, r.Loses) {
		for _, x := range b.Pairs {
			if want := phrase.Node(phrase.NodeOf(rs, x[0]), 0) + " from " + phrase.Node(phrase.NodeOf(rs, x[1]),
				0); !strings.Contains(text, want) {
				t.Errorf("%q is not told", want)
			}
		}
	}
}
