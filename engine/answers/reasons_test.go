package answers

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"whystone/engine"
	"whystone/engine/enginetest"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/kbtest"
)

// coverageCases are the cases under testdata/coverage, by file and number.
func coverageCases(tb testing.TB, rs *kb.Ruleset) []*casefile.Case {
	tb.Helper()
	files, err := filepath.Glob(filepath.Join(kbtest.Root(tb), "testdata", "coverage", "*.yaml"))
	if err != nil || len(files) == 0 {
		tb.Fatal("no coverage cases", err)
	}
	var out []*casefile.Case
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			tb.Fatal(err)
		}
		out = append(out, enginetest.Cases(tb, rs, f, string(text))...)
	}
	return out
}

// unlistedAtEqual is the share of what is not listed if every topmost group that a verdict may name were as common as
// every other.
func unlistedAtEqual(rs *kb.Ruleset, judge *engine.Judge) float64 {
	tops := map[*kb.Material]bool{}
	for _, m := range rs.Nodes {
		if m.Nameable && m.NameableAbove() == nil {
			tops[m] = true
		}
	}
	own := rs.Policy.Unlisted * math.Exp(judge.Likelihood(engine.Unlisted))
	sum := own
	for m := range tops {
		for _, i := range m.Leaves {
			if !judge.Excluded(i) {
				sum += (1 - rs.Policy.Unlisted) / float64(len(tops)*len(m.Leaves)) * math.Exp(judge.Likelihood(i))
			}
		}
	}
	return own / sum
}

// TestReasonIsTrue holds, on demo, coverage and drawn cases, that the reason told for an inconclusive verdict is the
// case: many are open where it says so, what is not listed weighs where it says so, and no reading counts where it says
// so. Each answer to a claim has its reason, in the data and in the sentence.
func TestReasonIsTrue(t *testing.T) {
	rs := loaded(t)
	e := engine.Prepare(rs)
	judge := e.NewJudge()
	cases := allCases(t, rs, rounds(300), 8)
	for _, c := range coverageCases(t, rs) {
		cases["coverage "+c.ID] = c
	}
	cases["as claimed"] = read(t, rs, "as claimed",
		"case: as claimed\nclaim: cubic zirconia\nreadings: {colour: colourless, thermal_probe: below diamond range, "+
			"ri: {above: 1.81}, specific_gravity: 5.80}\n")
	said := map[string]int{}
	var d engine.Decision
	each(cases, func(name string, c *casefile.Case) {
		ex := judge.Explain(c, noon)
		open, unlisted := 0, 0.0
		for _, x := range ex.Candidates {
			if x.Material == "unlisted" {
				unlisted = x.Share
			} else {
				open++
			}
		}
		says := func(words string) bool {
			is := strings.Contains(ex.Says, words)
			if is {
				said[words]++
			}
			return is
		}
		if says("too many materials") && open <= engine.MaxNodes {
			t.Errorf("%s: %q, and %d are open", name, ex.Says, open)
		}
		judge.Decide(c, noon.On, &d)
		if says("do not rule out well enough that it is a stone that is not on this list") &&
			max(unlisted, unlistedAtEqual(rs, judge)) <= 1-ex.Required {
			t.Errorf("%s: %q, and what is not listed has %g, at equal priors %g", name, ex.Says, unlisted,
				unlistedAtEqual(rs, judge))
		}
		if says("no listed stone fits all these readings") != (ex.NotListed != nil) {
			t.Errorf("%s: %q, and not listed is %v", name, ex.Says, ex.NotListed)
		}
		if says("no reading counts") && slices.ContainsFunc(ex.Chain,
			func(s engine.Step) bool { return s.Kind == "evidence" && len(s.Weights) > 0 && s.Observable != "" }) {
			t.Errorf("%s: %q, and a reading counts", name, ex.Says)
		}
		if ex.Verdict == engine.Contradictory.String() || ex.NotListed != nil && *ex.NotListed == "likely" {
			said["to be taken again"]++
			if before, _, _ := strings.Cut(ex.Says, ". "); ex.NotListed != nil &&
				!strings.Contains(before, "no listed stone fits") {
				t.Errorf("%s: first told is %q", name, before)
			}
		}
		if ex.Claim == nil {
			return
		}
		said["claim "+ex.Claim.Answer]++
		if ex.Claim.Why.Code == "" || ex.Claim.Why.Says == "" {
			t.Errorf("%s: the claim is %s, and no reason is given", name, ex.Claim.Answer)
		}
		told := ""
		for _, s := range ex.Chain {
			if s.Kind == "claim" {
				told = s.Says
			}
		}
		if ex.Claim.Answer == "open" && !strings.Contains(told, ex.Claim.Why.Says) ||
			!strings.Contains(told, `"`+ex.Claim.Says+`"`) {
			t.Errorf("%s: of the claim it is said %q, the reason is %q", name, told, ex.Claim.Why.Says)
		}
	})
	t.Log(said)
	for _, words := range []string{"too many materials", "no listed stone fits all these readings", "to be taken again",
		"claim open", "claim stands", "claim falls"} {
		if !testing.Short() && said[words] == 0 {
			t.Errorf("no case has %q", words)
		}
	}
}

// TestBaseSaysWhatIsAgainstIt holds that a reading of a set that the stone does not suit, or beside which a caution of
// its own stands, is told so, and that a set of which nothing is to be said comes first.
func TestBaseSaysWhatIsAgainstIt(t *testing.T) {
	rs := loaded(t)
	e := engine.Prepare(rs)
	a, judge := New(e), e.NewJudge()
	cases := allCases(t, rs, rounds(300), 7)
	for _, c := range coverageCases(t, rs) {
		cases["coverage "+c.ID] = c
	}
	for i, stone := range []string{"wet: true", "coated: true", "mounted: false, carat: 0.02"} {
		cases[fmt.Sprintf("unsuited %d", i)] = read(t, rs, "unsuited",
			"case: unsuited\nstone: {"+stone+
				"}\nreadings: {ri: [1.762, 1.770], specific_gravity: 4.00, facet_doubling: slight}\n")
	}
	told, unsuited := 0, 0
	each(cases, func(name string, c *casefile.Case) {
		flags := map[string]bool{}
		for _, f := range judge.Judge(c, noon).Flags {
			if strings.Contains(f.Says, "does not suit") {
				flags[f.Observables[0]] = true
			}
		}
		buts := 0
		for i, s := range a.Rests(c, noon).Sets {
			n := 0
			for _, r := range s.Readings {
				name, _, _ := strings.Cut(r.Name, " (")
				if flags[name] && !strings.Contains(r.But, "does not suit") {
					t.Errorf("%s: %s is a base, and nobody says that the stone does not suit it", c.ID, r.Name)
				}
				if flags[name] {
					unsuited++
				}
				if r.But != "" {
					n++
					told++
				}
			}
			if i > 0 && n < buts {
				t.Errorf("%s: the set with more against it comes first", name)
			}
			buts = n
		}
	})
	if told == 0 || unsuited == 0 {
		t.Errorf("said against %d bases; %d are of stones that they don't suit", told, unsuited)
	}
}
