package engine_test

import (
	"fmt"
	"maps"
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
	if all.log(t); !testing.Short() {
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
		n := readNaive(d.text.String())
		j := engine.Prepare(rs).NewJudge()
		for k := range naiveCases {
			text := d.drawCase(fmt.Sprintf("%d-%d", seed, k))
			c := readCase(rs, text)
			if c == nil {
				seen["refused"]++ // a bound that leaves nothing of the span, say
				continue
			}
			seen["cases"]++
			want := n.judge(n.readCase(text), judgedOn)
			got := j.Explain(c, engine.Moment{On: judgedOn, From: "taken"})
			diffs := want.differences(got)
			seen.note(want, got)
			if want.close || want.unsure {
				seen["close"]++
			}
			if len(diffs) > 0 {
				t.Fatalf("ruleset %d:\n%s\n%s", seed, strings.Join(diffs, "\n"), text)
			}
		}
	}
}

// build loads a ruleset from one text.
func build(t testing.TB, name, text string) *kb.Ruleset {
	t.Helper()
	rs, l := kb.Build([]kb.File{{Layer: "drawn", Path: name + ".yaml", Source: diag.NewSource("drawn/"+name+".yaml", []byte(text))}})
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
	return rs.CaseReader().Read(roots[0], &out)
}

// sightings count what the random cases held, so that the comparison can't go empty unnoticed.
type sightings map[string]int

func (s sightings) log(t *testing.T) {
	var lines strings.Builder
	for _, what := range slices.Sorted(maps.Keys(s)) {
		fmt.Fprintf(&lines, "\n%6d %s", s[what], what)
	}
	t.Log(lines.String())
}

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
	add("claim "+v.claim.answer, v.claim.answer != "")
	add("claim "+v.claim.step+": "+v.claim.answer, v.claim.answer != "")
	add("group "+v.claim.groupAnswer, v.claim.group != "")
	add("group "+v.claim.groupStep+": "+v.claim.groupAnswer, v.claim.group != "")
	for what, is := range v.met {
		add(what, is)
	}
	add("not listed: likely", v.notListed == "likely")
	add("not listed: likely, and none left", v.notListed == "likely" && v.class == "contradictory")
	add("not listed: possible", v.notListed == "possible")
	add("rests on priors", len(v.priors) > 0)
	add("named group", v.named != nil && v.named.group)
	add("joined", slices.ContainsFunc(v.nodes, func(m *naiveNode) bool { return m.group }))
	add("nought", slices.Contains(v.w.nought, true))
	add("doubtful", slices.ContainsFunc(got.Excluded, func(x engine.Excluded) bool { return !x.Nought }))
	add("set aside", len(v.setAside()) > 0)
	add("faulty", v.faulty)
	add("advice at fault", len(v.faults) > 0 && !v.faulty)
	add("sent on", v.sentOn())
	add("identified, and sent on", v.sentOn() && v.named != nil)
	add("waiting", len(v.waiting()) > 0)
	add("drafts", len(v.drafts()) > 0)
	add("several sets", len(v.repeat) > 1)
	add("sets of two", slices.ContainsFunc(v.repeat, func(set []string) bool { return len(set) == 2 }))
	add("disagree", slices.ContainsFunc(got.Flags, func(n engine.Note) bool { return strings.Contains(n.Says, "about one property") }))
	add("many leaves", len(v.leaves) > 64)
	for _, r := range v.rules {
		add("withheld until: lifted", r.withholds != nil && v.fires(r) && v.until(r) == isHolding)
		add("withheld until: undecided", r.withholds != nil && v.fires(r) && v.until(r) == isUndecided)
	}
	v.noteOthers(add)
	called, hushed := v.called()
	add("called for", len(called) > 0)
	for why := range hushed {
		s["not called for: "+why]++
	}
	v.noteReadings(add)
	v.noteEvidence(add)
	if claim := v.claimOf(v.c.claim); claim != nil {
		_, other := v.withColour(claim, v.leavesOf(claim))
		add("colour", other)
		add("claim with others", len(v.leavesOf(claim)) > len(claim.node.under))
	}
	for _, r := range v.rules {
		add("fires: "+r.effect(), v.fires(r))
	}
}

// noteOthers looks for leaves without a sheet where it matters.
func (v *opinion) noteOthers(add func(string, bool)) {
	for i, leaf := range v.leaves {
		if leaf.other {
			add("others excluded", v.w.out[i])
			add("others of weight nought", v.w.nought[i])
			add("others within what is named", v.named != nil && within(leaf, v.named) && !v.w.out[i])
		}
	}
	add("others among the nodes", slices.ContainsFunc(v.nodes, func(m *naiveNode) bool { return m.other }))
}

// effect is what follows from a rule, the first of several.
func (r *naiveRule) effect() string {
	for _, key := range []string{"excludes", "withholds", "sets_aside", "establishes", "sends_on", "forbids", "calls_for", "supports", "weakens"} {
		if r.sheet.has(key) {
			return key
		}
	}
	return "cautions"
}

func (v *opinion) noteReadings(add func(string, bool)) {
	pairs := 0
	for _, r := range v.c.readings {
		add("spoilt", r.spoilt != "")
		add("spoilt beside one that counts", r.spoilt != "" && slices.ContainsFunc(v.c.readings, func(o *naiveReading) bool { return o.o == r.o && o.where == r.where && o.usable() }))
		add("uncertainty "+r.reckoned, r.reckoned != "")
		add("derived", r.derived)
		add("two tests in one reading", len(r.tests) > 1)
		add("interval", r.form == "bounds")
		add("covering", r.form == "choice" && r.o.covers[r.choice] != nil)
		add("looked for in vain", r.form == "features" && len(r.seen) > 0 && len(r.seen) < len(r.lookedFor))
		if r.form == "rays" && v.counts(r) {
			pairs++
		}
	}
	add("rays by place", pairs > 1)
	add("correlated", len(v.c.correlations) > 0)
}

func (v *opinion) noteEvidence(add func(string, bool)) {
	for _, ev := range v.list {
		add("rule excludes", ev.rule != nil && slices.Contains(ev.out, true))
		add("rule on sheet", ev.rule != nil && slices.ContainsFunc(v.list, func(o *evidence) bool { return o.rule == nil && o.basis == ev.basis && o.family == ev.family }))
		add("rule on unlisted", ev.ofUnlisted() != 0)
		add("rule on unlisted alone", ev.ofUnlisted() != 0 && !slices.ContainsFunc(ev.c[:len(ev.out)], func(c float64) bool { return c != 0 }))
		add("combined", len(ev.from) == 2)
		add("places", strings.Contains(ev.basis, " at "))
		add("rays", len(ev.from) > 0 && ev.name == "birefringence" && ev.from[0].form == "rays")
		add("typical", len(ev.from) > 0 && slices.ContainsFunc(v.leaves, func(m *naiveNode) bool {
			p := m.ranges[ev.from[0].o.property]
			return p != nil && p.typical != nil
		}))
	}
}
