package engine_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"testing"

	"whystone/engine"
	"whystone/engine/archive"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/logic"
	"whystone/kb/syntax"
)

// Many cases judged at once, with what was remembered of their readings, against each judged by itself: on random
// rulesets that go through the real loader, and on random cases. Everything is compared exactly, shares to 1e-12.

// blockCases is how many cases are drawn: a million once is WHYSTONE_BLOCK_CASES=1000000.
func blockCases() int {
	if n, err := strconv.Atoi(os.Getenv("WHYSTONE_BLOCK_CASES")); err == nil {
		return n
	}
	if testing.Short() {
		return 3000
	}
	return 12_000
}

const blockCasesEach = 90 // a ruleset

func TestBlockAgainstJudge(t *testing.T) {
	var all blockSightings
	for seed := range uint64((blockCases() + blockCasesEach - 1) / blockCasesEach) {
		leaves := 3 + int(seed%8)
		if seed%20 == 19 {
			leaves = 67 + int(seed%5) // more than fit into one machine word
		}
		d := drawRuleset(seed, leaves)
		rs := build(t, fmt.Sprint("seed ", seed), d.text.String())
		var texts []string
		for k := range blockCasesEach {
			if text, ok := asJSON(d.drawCase(fmt.Sprintf("%d-%d", seed, k))); ok {
				texts = append(texts, text)
			}
		}
		compareBlock(t, fmt.Sprint("ruleset ", seed), rs, texts, &all)
	}
	if t.Logf("%+v", all); all.Skimmed < all.Cases/3 || all.Odd > 2*all.Cases/3 || all.Odd == 0 || all.Kept == 0 ||
		all.Faulty == 0 && !testing.Short() || all.Identified == 0 || all.Narrowed == 0 || all.Related < all.Cases/100 {
		t.Errorf("too little was tried: %+v", all)
	}
}

type blockSightings struct{ Cases, Skimmed, Odd, Kept, Faulty, Identified, Narrowed, Related int }

func asJSON(yaml string) (string, bool) {
	var out diag.List
	roots := syntax.ParseYAML(diag.NewSource("case.yaml", []byte(yaml)), &out)
	if out.HasErrors() || len(roots) != 1 {
		return "", false
	}
	return archive.JSON(typed(roots[0])), true
}

// typed is a tree in which what YAML takes for a number, a truth or nothing is one in JSON.
func typed(n *syntax.Node) *syntax.Node {
	out := *n
	out.Entries, out.Items = nil, nil
	for _, e := range n.Entries {
		out.Entries = append(out.Entries, syntax.Entry{Key: e.Key, Value: typed(e.Value)})
	}
	for _, i := range n.Items {
		out.Items = append(out.Items, typed(i))
	}
	if n.Kind == syntax.Scalar && n.Style == syntax.Plain && json.Valid([]byte(n.Text)) {
		out.Style = syntax.JSONNumber
	}
	return &out
}

// compareBlock judges records both ways, twice: the second time all is remembered.
func compareBlock(t *testing.T, name string, rs *kb.Ruleset, texts []string, seen *blockSightings) {
	t.Helper()
	e, rd := engine.Prepare(rs), eval.CaseReader(rs)
	alone, many := e.NewJudge(), e.NewJudge()
	many.Remember()
	skim, block := archive.NewSkimmer(rd, casefile.NewMemory(1000*200, 900)), eval.NewBlock(rs)
	rooms := make([]casefile.Room, condition.Lanes)
	for range 2 {
		var cases []*casefile.Case
		for _, text := range texts {
			r := &archive.Raw{File: "drawn", Line: 1, Text: text}
			want, _ := skim.Decoder.Decode(r)
			c, _, unusual := skim.Decode(r, &rooms[block.Len()])
			if (want == nil) != (c == nil) {
				t.Fatalf("%s: one of two ways reads %s", name, text)
			}
			if c == nil {
				continue
			}
			seen.Cases++
			if !unusual {
				seen.Skimmed++
			}
			cases = append(cases, want)
			block.Add(c, judgedOn)
		}
		block.Run()
		counts := map[string][3]int{}
		for lane, c := range cases {
			var want, got engine.Decision
			alone.Decide(c, judgedOn, &want)
			many.DecideLane(block, lane, &got)
			sameDecision(t, name, c, &want, &got)
			for i := range rs.Leaves {
				if alone.Excluded(i) != many.Excluded(i) || alone.Zero(i) != many.Zero(i) ||
					math.Abs(alone.Weight(i)-many.Weight(i)) > 1e-12 {
					t.Fatalf("%s, case %s: %s weighs %g alone and %g among many", name, c.ID, rs.Leaves[i].ID,
						alone.Weight(i), many.Weight(i))
				}
			}
			seen.note(block.Odd(lane), &want)
			if related(alone, len(rs.Leaves)) {
				seen.Related++
			}
			if block.Odd(lane) {
				continue
			}
			for i, r := range rs.Order {
				is := alone.Truth(r)
				if block.Truth(i, lane) != is {
					t.Fatalf("%s, case %s: the rule %s %s alone and %s among many", name, c.ID, r.ID, is,
						block.Truth(i, lane))
				}
				n := counts[r.ID]
				n[is]++
				counts[r.ID] = n
			}
		}
		for i, r := range rs.Order {
			if holds, fails := block.Counts(i); holds != counts[r.ID][logic.Holds] ||
				fails != counts[r.ID][logic.Fails] {
				t.Fatalf("%s: the rule %s holds in %d and fails in %d cases; counted are %d and %d", name, r.ID,
					counts[r.ID][logic.Holds], counts[r.ID][logic.Fails], holds, fails)
			}
		}
		block.Clear()
	}
}

// related tells whether what one reading says of some leaf goes by another.
func related(j *engine.Judge, leaves int) bool {
	for i := range leaves {
		for _, t := range j.Terms(i) {
			if n := len(t.Readings); n > 1 && t.Readings[0].Observable.Property != t.Readings[n-1].Observable.Property {
				return true
			}
		}
	}
	return false
}

func (s *blockSightings) note(odd bool, d *engine.Decision) {
	for _, x := range []struct {
		n  *int
		is bool
	}{{&s.Odd, odd}, {&s.Kept, len(d.KeptBack) > 0}, {&s.Faulty, d.Faulty},
		{&s.Identified, d.Class == engine.Identified}, {&s.Narrowed, d.Class == engine.Narrowed}} {
		if x.is {
			*x.n++
		}
	}
}

func sameDecision(t *testing.T, name string, c *casefile.Case, want, got *engine.Decision) {
	t.Helper()
	near := func(a, b float64) bool { return math.IsNaN(a) && math.IsNaN(b) || math.Abs(a-b) <= 1e-12 }
	a, b := *want, *got
	a.Nodes, b.Nodes, a.RestsOnPriors, b.RestsOnPriors, a.KeptBack, b.KeptBack, a.FaultyRules, b.FaultyRules = nil, nil,
		nil, nil, nil, nil, nil, nil
	good := near(a.Share, b.Share) && near(a.Doubt, b.Doubt) && near(a.Unlisted, b.Unlisted)
	a.Share, b.Share, a.Doubt, b.Doubt, a.Unlisted, b.Unlisted = 0, 0, 0, 0, 0, 0
	good = good && fmt.Sprintf("%+v", a) == fmt.Sprintf("%+v", b) && slices.Equal(want.Nodes, got.Nodes) &&
		slices.Equal(want.RestsOnPriors, got.RestsOnPriors) &&
		slices.Equal(want.KeptBack, got.KeptBack) && slices.Equal(want.FaultyRules, got.FaultyRules)
	if !good {
		t.Fatalf("%s, case %s:\nalone %+v\nmany  %+v", name, c.ID, want, got)
	}
}
