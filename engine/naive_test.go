package engine_test

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/doc"
	"whystone/kb/eval"
	"whystone/kb/load"
)

// The engine against the second implementation, on random rulesets that go through the real loader and random cases
// that go through the real reader. What the two reach is compared exactly where it is a choice and to 1e-9 where it is a
// number. A case in which some quantity lies within 1e-9 of a threshold is left out, as there rounding decides; these
// are counted, and must be few.

const naiveCases = 14 // a ruleset

// naiveRulesets is how many rulesets are drawn.
func naiveRulesets() int {
	switch {
	case testing.Short():
		return 40
	case os.Getenv("WHYSTONE_REQUIRE_ALL") == "1":
		return 1000
	}
	return 260
}

var judgedOn = time.Date(2031, 4, 12, 10, 0, 0, 0, time.UTC)

func TestNaive(t *testing.T) {
	const shards = 4
	rulesets := naiveRulesets()
	var seen [shards]sightings
	t.Run("drawn", func(t *testing.T) {
		for k := range shards {
			seen[k] = sightings{}
			t.Run(fmt.Sprint(k), func(t *testing.T) {
				t.Parallel()
				compareDrawn(t, uint64(k*rulesets/shards), uint64((k+1)*rulesets/shards), seen[k])
			})
		}
	})
	all := sightings{}
	for _, s := range seen {
		for what, n := range s {
			all[what] += n
		}
	}
	if t.Log(all); !testing.Short() {
		all.check(t)
	}
}

func compareDrawn(t *testing.T, from, to uint64, seen sightings) {
	for seed := from; seed < to; seed++ {
		leaves := 3 + int(seed%8)
		if seed%40 == 39 {
			leaves = 67 + int(seed%5) // more than fit into one machine word
		}
		d := drawRuleset(seed, leaves)
		rs := build(t, fmt.Sprint("seed ", seed), d.text.String())
		n := &naive{rs: rs, counter: d.counter}
		j := engine.Prepare(rs).NewJudge()
		for k := range naiveCases {
			text := d.drawCase(fmt.Sprintf("%d-%d", seed, k))
			c := readCase(rs, text)
			if c == nil {
				seen["refused"]++ // a bound that leaves nothing of the span, say
				continue
			}
			seen["cases"]++
			want := n.judge(c, judgedOn)
			got := j.Explain(c, engine.Moment{On: judgedOn, DatedBy: "taken"})
			seen.note(want, got)
			if want.close || want.unsure {
				seen["close"]++
			}
			if diffs := want.differences(got); len(diffs) > 0 {
				t.Fatalf("ruleset %d:\n%s\n%s", seed, strings.Join(diffs, "\n"), text)
			}
		}
	}
}

// build loads a ruleset from one text.
func build(t testing.TB, name, text string) *kb.Ruleset {
	t.Helper()
	rs, l := load.Build([]kb.File{{Layer: "drawn", Path: name + ".yaml", Source: diag.NewSource("drawn/"+name+".yaml", []byte(text))}})
	if rs == nil {
		var b strings.Builder
		if err := diag.WriteText(&b, l, diag.TextOptions{Width: 100}); err != nil {
			t.Fatal(err)
		}
		t.Fatal(b.String())
	}
	return rs
}

// readCase reads a case, or gives nil.
func readCase(rs *kb.Ruleset, text string) *casefile.Case {
	var out diag.List
	roots := doc.ParseYAML(diag.NewSource("case.yaml", []byte(text)), &out)
	if out.HasErrors() || len(roots) != 1 {
		return nil
	}
	return eval.CaseReader(rs).Read(roots[0], &out)
}

// sightings count what the random cases held, so that the comparison can't go empty unnoticed.
type sightings map[string]int

func (s sightings) check(t *testing.T) {
	t.Helper()
	for what, least := range map[string]int{
		"cases": 3000, "inconclusive": 100, "identified": 200, "narrowed": 300, "contradictory": 200, "named group": 20, "joined": 100, "nought": 300,
		"doubtful": 300, "rule excludes": 100, "rule on sheet": 100, "combined": 100, "disagree": 20, "rays": 200, "rays by place": 10,
		"places": 300, "interval": 200, "unseen": 300, "covering": 100, "set aside": 200, "faulty": 20, "sent on": 20, "several sets": 50,
		"sets of two": 30, "claim stands": 50, "claim falls": 50, "group stands": 50, "group falls": 20, "colour": 50, "typical": 300, "many leaves": 50,
		"called for": 300, "not called for: read": 100, "not called for: forbidden": 100, "not called for: unsuited": 100,
	} {
		if s[what] < least {
			t.Errorf("only %d of %q were seen, %d are wanted", s[what], what, least)
		}
	}
	if limit := s["cases"] / 100; s["close"] > limit || s["refused"] > 2*limit {
		t.Errorf("%d cases were close to a threshold and %d refused, of %d", s["close"], s["refused"], s["cases"])
	}
}

func (s sightings) note(v *opinion, got *engine.Explained) {
	add := func(what string, is bool) {
		if is {
			s[what]++
		}
	}
	s[v.class]++
	s["claim "+v.claim.answer]++
	s["group "+v.claim.groupAnswer]++
	add("named group", v.named != nil && v.named.Group)
	add("joined", slices.ContainsFunc(v.nodes, func(id string) bool { return v.rs.Node(id).Group }))
	add("nought", slices.Contains(v.w.nought, true))
	add("doubtful", slices.ContainsFunc(got.Excluded, func(x engine.Excluded) bool { return !x.Nought }))
	add("set aside", len(got.SetAside) > 0)
	add("faulty", v.faulty)
	add("sent on", len(got.SentOn) > 0)
	add("several sets", len(v.repeat) > 1)
	add("sets of two", slices.ContainsFunc(v.repeat, func(set []string) bool { return len(set) == 2 }))
	add("disagree", slices.ContainsFunc(got.Flags, func(n engine.Note) bool { return strings.Contains(n.Says, "about one property") }))
	add("many leaves", len(v.rs.Leaves) > 64)
	called, hushed := v.called()
	add("called for", len(called) > 0)
	for why := range hushed {
		s["not called for: "+why]++
	}
	pairs := 0
	for _, ev := range v.list {
		add("rule excludes", ev.rule != nil && slices.Contains(ev.out, true))
		add("rule on sheet", ev.rule != nil && slices.ContainsFunc(v.list, func(o *evidence) bool { return o.rule == nil && o.basis == ev.basis && o.family == ev.family }))
		add("combined", len(ev.from) == 2)
		add("places", strings.Contains(ev.basis, " at "))
		if len(ev.from) == 0 {
			continue
		}
		r := ev.from[0]
		add("rays", ev.name == "birefringence" && r.Form == casefile.Pair)
		add("interval", r.Form == casefile.Interval)
		add("unseen", r.Form == casefile.Features && !r.Seen.Empty() && r.Seen != r.LookedFor)
		add("covering", r.Form == casefile.Choice && r.Observable.Outcomes[r.Outcome].Covers != 0)
		add("typical", slices.ContainsFunc(v.rs.Leaves, func(m *kb.Material) bool {
			p := m.Ranges[r.Observable.Property]
			return p != nil && p.Typical != nil
		}))
		if r.Form == casefile.Pair && ev.name == "ri" {
			pairs++
		}
	}
	add("rays by place", pairs > 1)
	if claim := v.claimOf(v.c.Claim); claim != nil {
		_, _, other := v.withColour(claim, v.leaves(claim))
		add("colour", other)
	}
}
