package terminal

import (
	"bytes"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"whystone/engine"
	"whystone/engine/answers"
	"whystone/engine/enginetest"
	"whystone/engine/next/feasible"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/kbtest"
	"whystone/kb/load"
)

// drawn is a loose stone of some material with up to eight readings that its sheet leads to expect.
func drawn(rs *kb.Ruleset, rng *rand.Rand) *casefile.Case {
	m := rs.Leaves[rng.IntN(len(rs.Leaves))]
	loose := rng.IntN(4) == 0
	c := &casefile.Case{ID: "drawn from " + m.ID, Stone: casefile.Stone{Mounted: &loose}}
	most := 1 + rng.IntN(8)
	for _, i := range rng.Perm(len(rs.Tests)) {
		for _, r := range feasible.Expected(rs, c, rs.Tests[i], m) {
			if len(c.Readings) < most && !c.Has(r.Observable) {
				c.Add(r)
			}
		}
	}
	return c
}

// TestBaseIsOne: what judge tells a verdict to be based on and what why --rests tells never contradict each other: no
// reading is a base on the one page and not needed on the other, no line is empty, and a verdict that names something
// has a base.
func TestBaseIsOne(t *testing.T) {
	rs := enginetest.Ruleset(t)
	e := engine.Prepare(rs)
	var all []*casefile.Case
	for _, c := range enginetest.Demo(t, rs) {
		all = append(all, c)
	}
	files, err := filepath.Glob(filepath.Join(kbtest.Root(t), "testdata", "coverage", "*.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, enginetest.Cases(t, rs, f, string(text))...)
	}
	rng := rand.New(rand.NewPCG(3, 5))
	for range map[bool]int{true: 30, false: 300}[testing.Short()] {
		all = append(all, drawn(rs, rng))
	}
	bases, notNeeded := 0, 0
	for _, c := range all {
		m := engine.Moment{On: time.Date(2031, 4, 12, 12, 0, 0, 0, time.UTC), DatedBy: "clock"}
		told := Told{Ruleset: rs, Engine: e, Case: c, Moment: m, Explained: e.NewJudge().Explain(c, m)}
		r := answers.New(e).Rests(c, m)
		lines := told.restsOn()
		if named := told.Named != nil || len(told.Nodes) > 0; named != (len(lines) > 0) {
			t.Errorf("%s: %s, based on %q", c.ID, told.Says, lines)
		}
		for _, l := range lines {
			bases++
			if strings.TrimSpace(l) == "" {
				t.Errorf("%s: an empty line of what it is based on", c.ID)
			}
			for _, n := range r.NotNeeded {
				if notNeeded++; strings.Contains(l, phrase.InWords(n.Name)+" "+n.Says) {
					t.Errorf("%s: %s is a base and not needed: %q", c.ID, n.Name, l)
				}
			}
		}
		var b bytes.Buffer
		p := New(&b, 80, false)
		p.Rests(told, r)
		if err := p.Flush(); err != nil {
			t.Fatal(err)
		}
		for line := range strings.Lines(b.String()) {
			if label := strings.TrimSpace(line); label == "Based on" || label == "Not needed" {
				t.Errorf("%s: an empty line %q", c.ID, label)
			}
		}
	}
	if bases < 100 && !testing.Short() || notNeeded == 0 {
		t.Errorf("%d bases, %d not needed", bases, notNeeded)
	}
}

// TestHouseWordsStay: what a house wrote is told as it wrote it, names of files and addresses too.
func TestHouseWordsStay(t *testing.T) {
	says := "Fill in form intake_sheet_v2 at the uv corner, and mail it to stone.desk or notes_for_lab.pdf."
	house := "format: 1\nrules:\n  - rule: form\n    says: The form ri_2 comes first.\n    if: seen(thermal_probe)\n " +
		"   cautions: " + says + "\n    source: invented\n" +
		"    examples: [{readings: {thermal_probe: unsteady}, is: holds}, {readings: {}, is: fails}]\n"
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "rules.yaml"), []byte(house), 0o600); err != nil {
		t.Fatal(err)
	}
	rs := enginetest.Ruleset(t, load.Layer{Name: "house", FS: os.DirFS(dir)})
	told := judged(t, rs, "{case: A, readings: {thermal_probe: diamond range, uv_long: blue}}")
	for i, write := range []func(*Printer, Told){(*Printer).Verdict, (*Printer).Why, (*Printer).WhyAll} {
		var b bytes.Buffer
		p := New(&b, 400, false)
		write(p, told)
		if err := p.Flush(); err != nil {
			t.Fatal(err)
		}
		text := b.String()
		if i != 1 && !strings.Contains(text, []string{says, "", "The form ri_2 comes first."}[i]) {
			t.Errorf("the house's words are told as\n%s", text)
		}
		if strings.Contains(text, "thermal_probe diamond") || strings.Contains(text, "uv_long blue") {
			t.Errorf("an observable is told by its name in files:\n%s", text)
		}
	}
}
