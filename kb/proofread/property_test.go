package proofread

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/vocab"
)

// drawBase draws a small rule base over some observables.
func drawBase(t *rapid.T) []*drawnRule {
	return drawRules(t, rapid.SampledFrom(looksAt).Draw(t, "looks at"))
}

// TestWitnesses: the case that comes with a finding, read and run anew, shows what the finding says.
func TestWitnesses(t *testing.T) {
	shown := map[string]int{}
	rapid.Check(t, func(rt *rapid.T) {
		rs := build(t, drawBase(rt))
		for _, f := range report(t, rs).Findings {
			if f.Witness == nil {
				if slices.Contains([]string{"pulls-both-ways", "repeats-rule", "excludes-own"}, string(f.Code)) {
					rt.Fatalf("%s without a witness", f.Error())
				}
				continue
			}
			c := readCase(t, rs, f.Witness.Text)
			run := eval.New(rs)
			run.Do(c, on)
			for _, s := range f.Sheets {
				switch {
				case s.Kind == "rule" && !run.Fired(rs.Rule(s.ID)):
					rt.Fatalf("%s: %q does not fire on\n%s", f.Error(), s.ID, f.Witness.Text)
				case s.Kind == "material" && s == f.Sheets[1] && !belongs(rs.Node(s.ID), c):
					rt.Fatalf("%s: the sheet of %q does not give\n%s", f.Error(), s.ID, f.Witness.Text)
				}
			}
			if len(f.Witness.Says) == 0 && len(c.Readings) > 0 {
				rt.Fatalf("%s: nothing is said of\n%s", f.Error(), f.Witness.Text)
			}
			shown[string(f.Code)]++
		}
	})
	t.Log(shown)
	// -short draws few
	if !testing.Short() && (shown["pulls-both-ways"] < 5 || shown["repeats-rule"] < 2 || shown["excludes-own"] < 5) {
		t.Errorf("few witnesses were looked at: %v", shown)
	}
}

// belongs tells whether every reading of a case is one that a material's sheet gives as its own.
func belongs(m *kb.Material, c *casefile.Case) bool {
	for _, r := range c.Readings {
		o := r.Observable
		if !r.Usable() {
			continue
		}
		switch o.Kind {
		case vocab.Quantity:
			g, lo, hi := m.Ranges[o.Property], r.Lo, r.Hi
			if r.Form == casefile.Value {
				lo, hi = r.Value-2*r.U, r.Value+2*r.U
			}
			if g == nil || hi <= g.Low || lo >= g.High {
				return false
			}
		case vocab.Choice:
			if f := m.Choices[o.Name]; f == nil || !slices.Contains(ownTo, f.Words[o.Outcomes[r.Outcome].Name]) &&
				f.Single != o.Outcomes[r.Outcome].Name {
				return false
			}
		case vocab.Features:
			f := m.Features[o.Name]
			for _, i := range r.Seen.Members() {
				if f == nil || !slices.Contains(ownTo, f.Words[o.Outcomes[i].Name]) {
					return false
				}
			}
		}
	}
	return true
}

// told is a finding without its place.
func told(f Finding) string {
	out := fmt.Sprintf("%s %s %s %s %v %q", f.Severity, f.Code, f.Summary, f.Detail, f.Sheets, f.Span.Text())
	for _, r := range f.Related {
		out += fmt.Sprintf(" %s %q", r.Says, r.Span.Text())
	}
	if f.Witness != nil {
		out += f.Witness.Text + strings.Join(f.Witness.Says, ", ")
	}
	return out
}

func allTold(r *Report) (out []string) {
	for _, f := range r.Findings {
		out = append(out, told(f))
	}
	slices.Sort(out)
	return out
}

// TestOrderOfFiles: findings do not depend on the order of rules, or on the files that they stand in; and the same
// ruleset gives the same bytes.
func TestOrderOfFiles(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		rules := drawBase(rt)
		shuffled := rapid.Permutation(rules).Draw(rt, "order")
		at := rapid.IntRange(0, len(rules)).Draw(rt, "cut")
		rs := build(t, rules)
		one, other := report(t, rs), report(t, build(t, shuffled[:at], shuffled[at:]))
		if d := cmp.Diff(allTold(one), allTold(other)); d != "" {
			rt.Fatal(d)
		}
		if a, b := bytesOf(t, rs, one), bytesOf(t, rs, report(t, rs)); a != b {
			rt.Fatal(cmp.Diff(a, b))
		}
	})
}

func bytesOf(t testing.TB, rs *kb.Ruleset, r *Report) string {
	text, err := json.Marshal(r.JSON(rs.Digest))
	if err != nil {
		t.Fatal(err)
	}
	return string(text) + written(t, diagnostics(r))
}

// TestAcceptance: an acceptance silences the finding that it is for and nothing else, until its day; then it is back.
func TestAcceptance(t *testing.T) {
	accepted := 0
	rapid.Check(t, func(rt *rapid.T) {
		rules := drawBase(rt)
		before := report(t, build(t, rules))
		if len(before.Findings) == 0 {
			return
		}
		f := rapid.SampledFrom(before.Findings).Draw(rt, "finding")
		i := slices.IndexFunc(rules, func(r *drawnRule) bool { return r.id == f.Sheets[0].ID })
		with, other := "", ""
		if len(f.Sheets) > 1 {
			other = f.Sheets[1].ID
			with = "with: " + other + ", "
		}
		rules[i].accepts = "    accepts: [{finding: " + string(f.Code) + ", " + with +
			"because: it is known, until: 2031-05-01}]\n"
		rs := build(t, rules)
		isIt := func(g Finding) bool {
			mentions := func(id string) bool {
				return slices.ContainsFunc(g.Sheets,
					func(s Sheet) bool { return s.ID == id })
			}
			return g.Code == f.Code && mentions(rules[i].id) && (other == "" || mentions(other))
		}
		after := report(t, rs)
		for _, g := range after.Findings {
			if (g.Accepted != nil) != isIt(g) {
				rt.Fatalf("accepted: %v: %s", g.Accepted != nil, g.Error())
			}
		}
		if d := cmp.Diff(allTold(before), allTold(after)); d != "" {
			rt.Fatal("it changed what is found:", d)
		}
		later, err := Run(context.Background(), rs, Options{On: time.Date(2031, 5, 1, 0, 0, 0, 0, time.UTC)})
		if err != nil {
			rt.Fatal(err)
		}
		for _, g := range later.Findings {
			if g.Accepted != nil || isIt(g) != slices.ContainsFunc(g.Related, was) {
				rt.Fatalf("after its day: %s, accepted %v, related %v", g.Error(), g.Accepted, g.Related)
			}
		}
		if len(later.Findings) != len(before.Findings) {
			rt.Fatal("after its day something else is found")
		}
		accepted++
	})
	if !testing.Short() && accepted < 30 { // -short draws few
		t.Errorf("only %d findings were accepted", accepted)
	}
}

// was tells whether a place is an acceptance that is over.
func was(r diag.Related) bool { return r.Says == "it was accepted until 2031-05-01" }
