package engine_test

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"whystone/engine"
)

// sightings count what the random cases held, so that the comparison can't go empty unnoticed.
type sightings map[string]int

func (s sightings) log(t *testing.T) {
	var lines strings.Builder
	for _, what := range slices.Sorted(maps.Keys(s)) {
		fmt.Fprintf(&lines, "\n%6d %s", s[what], what)
	}
	t.Log(lines.String())
}

// wanted is how often each must be met at least, of 260 rulesets.
var wanted = sightings{
	// Verdicts.
	"cases": 3000, "identified": 400, "narrowed": 850, "contradictory": 300, "inconclusive": 350, "faulty": 15,
	"advice at fault": 20, "named group": 250, "joined": 650, "doubtful": 1400, "zero": 700, "several sets": 200,
	"sets of two": 100, "many leaves": 45,
	// Readings and evidence.
	"places": 750, "rays": 100, "rays by place": 10, "interval": 650, "covering": 300, "looked for in vain": 400,
	"called by its neighbour's name": 1000, "feature with a neighbour": 300, "line that may be one of several": 300,
	"strength of a line": 350, "typical": 2450, "combined": 90, "disagree": 65, "two tests in one reading": 100, "derived": 150, "correlated": 100,
	"colour": 65, "rule excludes": 300, "rule on sheet": 500, "drafts": 700, "waiting": 250, "set aside": 550,
	"flagged": 500, "fires: excludes": 300, "fires: supports": 500, "fires: weakens": 200, "fires: sets_aside": 200,
	"fires: establishes": 1900, "fires: calls_for": 800, "fires: forbids": 700, "fires: cautions": 500,
	"fires: sends_on": 100, "fires: withholds": 600, "facts: truths": 1500, "facts: choices": 350,
	"facts: quantities": 200, "facts on which rules disagree": 80, "called for": 700, "not called for: read": 400,
	"not called for: forbidden": 200, "not called for: unsuited": 200,
	// What is not listed, and others.
	"rule on unlisted": 350, "rule on unlisted alone": 100, "not listed: likely": 150,
	"not listed: likely, and none left": 85, "not listed: possible": 200, "others excluded": 1500,
	"others of weight zero": 350, "others within what is named": 350, "others among the nodes": 10,
	"claim with others": 25,
	// Names kept back.
	"withheld: a name": 40, "withheld: the next above is named": 5, "withheld: a rival all the same": 10,
	"withheld: names with others beside": 35, "withheld: nothing beside": 40, "withheld: too many beside": 9,
	"withheld until: lifted": 50, "withheld until: undecided": 150, "sent on": 100, "identified, and sent on": 30,
	// Growth.
	"growth: a species of which too little is known": 15, "growth: another origin is open": 60,
	"growth: excluded by one test": 25, "growth: natural beyond doubt": 15, "growth: not natural beyond doubt": 35,
	"joined by origin": 850,
	// Spoilt, edge, uncertainty, names by colour, priors.
	"spoilt": 750, "spoilt beside one that counts": 7, "exactly at the edge": 100, "a bound decides where it ends": 50,
	"uncertainty from the stone": 100, "uncertainty otherwise": 75, "named by colour: demanded": 35,
	"named by colour: any": 35, "named by colour: none": 40, "rests on priors": 25, "rests on priors: several": 8,
	// Relations.
	"related": 320, "related excludes": 8, "related, beyond the points": 150,
	"related, and all of the range is left": 200, "related to a bound": 50, "related to rays": 115,
	"related to several places": 30, "related difference of rays": 45, "related bound": 70,
	"related, of two readings": 8, "related, of a further place": 25, "related, and the band misses the range": 2,
	// Claims.
	"claim 10: open": 650, "claim 1: open": 95, "claim 2: falls": 35, "claim 2: open": 100, "claim 3: open": 150,
	"claim 4: falls": 100, "claim 5: falls": 8, "claim 6: open": 100, "claim 7, and may not: open": 5,
	"claim 7, its own: falls": 10, "claim 7, neither: open": 85, "claim 7, the others: stands": 10,
	"claim 8, by exclusion: falls": 20, "claim 8: falls": 85, "claim 8: kept from falling by its group": 35,
	"claim 9, and may not: open": 10, "claim 9: stands": 25, "claim falls": 250, "claim open": 1300, "claim stands": 40,
	// Groups of claims.
	"group 10: open": 500, "group 1: open": 10, "group 2: falls": 25, "group 2: open": 80, "group 3: open": 150,
	"group 4: falls": 70, "group 6: open": 100, "group 7, its own: falls": 4, "group 7, neither: open": 35,
	"group 7, the others: stands": 10, "group 8, by exclusion: falls": 3, "group 8: falls": 40, "group 9: stands": 100,
	"group falls": 150, "group open": 950, "group stands": 100,
}

func (s sightings) check(t *testing.T) {
	t.Helper()
	for what, least := range wanted {
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
	add("rests on priors: several", len(v.priors) > 1)
	add("named group", v.named != nil && v.named.group)
	add("joined", slices.ContainsFunc(v.nodes, func(m *naiveNode) bool { return m.group }))
	add("zero", slices.Contains(v.w.zero, true))
	add("doubtful", slices.ContainsFunc(got.Excluded, func(x engine.Excluded) bool { return !x.Zero }))
	add("set aside", len(v.setAside()) > 0)
	add("faulty", v.faulty)
	add("advice at fault", len(v.faults) > 0 && !v.faulty)
	add("sent on", v.sentOn())
	add("identified, and sent on", v.sentOn() && v.named != nil)
	add("waiting", len(v.waiting()) > 0)
	add("drafts", len(v.drafts()) > 0)
	add("several sets", len(v.repeat) > 1)
	add("sets of two", slices.ContainsFunc(v.repeat, func(set []string) bool { return len(set) == 2 }))
	add("disagree", slices.ContainsFunc(got.Flags, func(n engine.Note) bool {
		return strings.Contains(n.Says,
			"about one property")
	}))
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
	for _, m := range v.facts {
		add("facts: truths", m.here && m.amounts == nil && m.choices == nil)
		add("facts: choices", m.here && m.choices != nil)
		add("facts: quantities", m.here && m.amounts != nil)
		add("facts on which rules disagree", m.tried)
	}
}

// noteOthers looks for leaves without a sheet where it matters.
func (v *opinion) noteOthers(add func(string, bool)) {
	for i, leaf := range v.leaves {
		if leaf.other {
			add("others excluded", v.w.out[i])
			add("others of weight zero", v.w.zero[i])
			add("others within what is named", v.named != nil && within(leaf, v.named) && !v.w.out[i])
		}
	}
	add("others among the nodes", slices.ContainsFunc(v.nodes, func(m *naiveNode) bool { return m.other }))
}

// effect is what follows from a rule, the first of several.
func (r *naiveRule) effect() string {
	for _, key := range []string{"excludes", "withholds", "sets_aside", "establishes", "sends_on", "forbids",
		"calls_for", "supports", "weakens"} {
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
		add("spoilt beside one that counts", r.spoilt != "" && slices.ContainsFunc(v.c.readings,
			func(o *naiveReading) bool { return o.o == r.o && o.where == r.where && o.usable() }))
		add("uncertainty "+r.reckoned, r.reckoned != "")
		add("derived", r.derived)
		add("two tests in one reading", len(r.tests) > 1)
		add("interval", r.form == "bounds")
		add("covering", r.form == "choice" && r.o.covers[r.choice] != nil)
		add("line that may be one of several",
			slices.ContainsFunc(r.read, func(l naiveLine) bool { return !r.sure(l) }))
		add("strength of a line", slices.ContainsFunc(r.read, func(l naiveLine) bool { return l.strength != "" }))
		add("called by its neighbour's name", r.form == "choice" && len(r.o.neighbours[r.choice]) > 0)
		add("feature with a neighbour", r.form == "features" && slices.ContainsFunc(slices.Collect(maps.Keys(r.seen)),
			func(w string) bool { return len(r.o.neighbours[w]) > 0 }))
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
		add("rule on sheet", ev.rule != nil && slices.ContainsFunc(v.list,
			func(o *evidence) bool { return o.rule == nil && o.basis == ev.basis && o.family == ev.family }))
		add("rule on unlisted", ev.ofUnlisted() != 0)
		add("rule on unlisted alone", ev.ofUnlisted() != 0 && !slices.ContainsFunc(ev.c[:len(ev.out)],
			func(c float64) bool { return c != 0 }))
		add("combined", len(ev.from) == 2)
		v.noteRelated(ev, add)
		add("places", strings.Contains(ev.basis, " at "))
		add("rays", len(ev.from) > 0 && ev.name == "birefringence" && ev.from[0].form == "rays")
		add("typical", len(ev.from) > 0 && slices.ContainsFunc(v.leaves, func(m *naiveNode) bool {
			p := m.ranges[ev.from[0].o.property]
			return p != nil && p.typical != nil
		}))
	}
}
