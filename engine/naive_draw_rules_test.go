package engine_test

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Rules of a random ruleset. A rule that sets something aside reads the stone or what is never set aside, and facts are
// established by conditions on observables, so that no circle comes about.

var setAsideObservables = []string{"ri", "birefringence", "specific_gravity", "fire", "uv", "doubling", "colour"}

// term is a condition as text, with the observables that it names, through facts too.
type term struct {
	text  string
	names []string
}

func (t term) and(o term) term {
	return term{fmt.Sprintf("(%s) and (%s)", t.text, o.text), append(slices.Clone(t.names), o.names...)}
}

func (d *drawn) rules() {
	d.line(0, "rules:")
	d.line(1, "- {rule: nothing, says: nothing., if: stone.coated, cautions: none., source: drawn}")
	facts := d.facts()
	for i := range d.IntN(4) {
		if d.chance(0.5) {
			t := pick(d, term{text: "stone.mounted"}, term{text: "not stone.wet"},
				term{text: `thermal == "unsteady"`, names: []string{"thermal"}})
			d.rule(fmt.Sprintf("a%d", i), t, pick(d, term{}, term{}, term{text: "stone.warm"}),
				[]string{"sets_aside: " + quoted(some(d, setAsideObservables, 1+d.IntN(2)))}, d.state())
		}
	}
	for i := range d.IntN(9) {
		d.evidenceRule(fmt.Sprintf("r%d", i), facts)
	}
	for i := range d.IntN(3) {
		d.withholdingRule(fmt.Sprintf("w%d", i), facts)
	}
	if d.chance(0.4) {
		d.rule("s0", d.observation(facts, ""), term{}, []string{"sends_on: drawn."}, d.state())
	}
	d.askingRules(facts)
	d.faultyRule()
}

// state is a rule's status and dates; the cases are judged on 2031-04-12.
func (d *drawn) state() string {
	return pick(d, "", "", "", "", "", "", "", "status: draft", "since: 2031-06-01", "until: 2031-06-01",
		"since: 2031-04-12", "until: 2031-04-12", "status: retired")
}

// facts draws what rules establish: truths by one or several rules, a choice and a quantity.
func (d *drawn) facts() map[string][]string {
	facts := map[string][]string{}
	draw := func(id, fact, value string, t, unless term, reads ...string) {
		state := d.state()
		if state == "status: retired" {
			state = ""
		}
		if d.rule(id, t, unless, []string{fmt.Sprintf("establishes: {%s: %s}", fact, value)},
			state); state == "status: draft" {
			reads, t, unless = nil, term{}, term{}
		}
		facts[fact] = slices.Concat(facts[fact], t.names, unless.names, reads)
	}
	exception := func() term {
		if d.chance(0.2) {
			return d.observation(nil, "")
		}
		return term{}
	}
	for i := range d.IntN(3) {
		draw(fmt.Sprintf("f%d", i), fmt.Sprintf("fact_%d", i%2), "true", d.observation(nil, ""), exception())
	}
	for i := range pick(d, 0, 2, 3) {
		draw(fmt.Sprintf("fc%d", i), "tint", []string{"pale", "deep", "pale"}[i], d.observation(nil, ""), exception())
	}
	for i := range d.IntN(3) {
		is := pick(d, term{"specific_gravity - 1", []string{"specific_gravity"}},
			term{"(ri - 1) / (ri + 1)", []string{"ri"}}, term{"ri + 2 * birefringence",
				[]string{"birefringence", "ri"}}, term{"specific_gravity - size_density",
				[]string{"specific_gravity", "size_density"}},
			term{"specific_gravity * 0.5", []string{"specific_gravity"}})
		draw(fmt.Sprintf("fq%d", i), "figured", fmt.Sprintf("{is: %q}", is.text),
			pick(d, term{}, d.observation(nil, "")), term{}, is.names...)
	}
	return facts
}

// evidenceRule draws one that supports, weakens or excludes.
func (d *drawn) evidenceRule(id string, facts map[string][]string) {
	about := ""
	if d.chance(0.5) {
		about = pick(d, d.observed...).name // often alone, so that it rests on what a sheet's line rests on
	}
	t, unless := d.observation(facts, about), term{}
	if d.chance(0.15) {
		unless = pick(d, d.observation(nil, ""), term{text: "stone.warm"})
	}
	var effects []string
	which := d.IntN(7)
	if which < 3 || which == 6 {
		effects = append(effects, "supports: "+d.weights())
	}
	if which == 3 || which == 6 {
		effects = append(effects, "weakens: "+d.weights())
	}
	if which >= 4 && len(t.names) > 0 {
		effects = append(effects, "excludes: "+d.selection(""))
	}
	if len(effects) == 0 {
		effects = append(effects, "weakens: "+d.weights())
	}
	d.rule(id, t, unless, effects, d.state())
}

// withholdingRule draws one that keeps names back: while something holds, perhaps until something else does, with
// others told beside.
func (d *drawn) withholdingRule(id string, facts map[string][]string) {
	t := pick(d, term{}, term{text: "not stone.wet"}, d.observation(facts, ""))
	effect := "names: " + quoted(some(d, slices.Concat(d.groups, d.leaves), 1+d.IntN(4)))
	if d.chance(0.5) {
		until := d.observation(facts, "")
		for until.text == "" {
			until = d.observation(facts, "")
		}
		effect += ", until: " + strconv.Quote(until.text)
	}
	switch {
	case d.chance(0.2):
		effect += ", beside: [everything]"
	case d.chance(0.7):
		effect += ", beside: " + quoted(some(d, slices.Concat(d.groups, d.leaves), 1+d.IntN(3)))
	}
	d.rule(id, t, pick(d, term{}, term{}, term{text: "stone.warm"}), []string{"withholds: {" + effect + "}"}, d.state())
}

// faultyRule draws one whose arithmetic can fail: on a stone of just one carat, or where a bound leaves zero open.
func (d *drawn) faultyRule() {
	if !d.chance(0.15) {
		return
	}
	t := term{text: "1 / (stone.carat - 1) > 2"}
	if d.chance(0.2) {
		t = term{"1 / (specific_gravity - 3.2) > 2", []string{"specific_gravity"}}
	}
	if d.chance(0.3) {
		t = t.and(d.leafOf(pick(d, d.observed...)))
	}
	id, effect := "z0", pick(d, "cautions: drawn.", "cautions: drawn.", "calls_for: [eye]", "forbids: [eye]",
		"sends_on: drawn.", "withholds: {names: [m1]}")
	if d.chance(0.2) {
		id, effect = "r90", "supports: "+d.selection(d.strength())
	}
	if d.chance(0.3) {
		d.rule(id, d.leafOf(pick(d, d.observed...)), t, []string{effect}, d.state())
		return
	}
	d.rule(id, t, term{}, []string{effect}, d.state())
}

func (d *drawn) rule(id string, t, unless term, effects []string, more string) {
	d.line(1, "- rule: %s", id)
	d.line(2, "says: drawn as %s.", id)
	d.line(2, "source: drawn")
	if t.text != "" {
		d.line(2, "if: %s", strconv.Quote(t.text))
	}
	if unless.text != "" {
		d.line(2, "unless: %s", strconv.Quote(unless.text))
	}
	for _, e := range effects {
		d.line(2, "%s", e)
	}
	if more != "" {
		d.line(2, "%s", more)
	}
	var families []string
	for _, name := range append(slices.Clone(t.names), unless.names...) {
		i := slices.IndexFunc(d.observed, func(o drawnObservable) bool { return o.name == name })
		families = append(families, d.observed[i].family)
	}
	slices.Sort(families)
	if families = slices.Compact(families); len(families) != 1 && (strings.HasPrefix(id, "r")) {
		d.line(2, "family: %s", pick(d, d.observed...).family)
	}
}

// strength draws how much a rule says. Nothing lies on a threshold: no 2, no 16.
func (d *drawn) strength() string {
	return pick(d, "strength: weak", "strength: moderate", "strength: moderately strong", "ratio: 10", "ratio: 1.7",
		"ratio: 4.1", "ratio: 52", "ratio: 10000")
}

// weights draws whom a rule speaks of and how strongly; of unlisted too, and of several with unlike strengths.
func (d *drawn) weights() string {
	switch d.IntN(6) {
	case 0:
		return fmt.Sprintf("{materials: [unlisted], %s}", d.strength())
	case 1:
		return fmt.Sprintf("{materials: %s, %s}", quoted(append(some(d, d.leaves, 1+d.IntN(3)), "unlisted")),
			d.strength())
	case 2:
		return fmt.Sprintf("[%s, %s]", d.selection(d.strength()), pick(d, d.selection(d.strength()),
			"{materials: unlisted, ratio: 29}"))
	}
	return d.selection(d.strength())
}

func (d *drawn) selection(strength string) string {
	if d.chance(0.15) {
		where := pick(d, "material.ri.low > 1.7", `material.optic_character == 'uniaxial'`,
			"material.specific_gravity.high < 3.6", "material.origin == 'natural'", "material.ri > 1.7",
			"material.origin in ['imitation', 'assembled'] or material.birefringence.high < 0.004",
			"material.ri.high - material.ri.low < 0.004", "not (material.colour in ['red', 'pink'])",
			"material.specific_gravity > 3.1 and material.ri < 1.9")
		return fmt.Sprintf("{where: %s%s}", strconv.Quote(where), with(strength))
	}
	nodes := quoted(some(d, slices.Concat(d.groups, d.leaves), 1+d.IntN(3)))
	if strength == "" {
		return nodes
	}
	return fmt.Sprintf("{materials: %s%s}", nodes, with(strength))
}

func with(strength string) string {
	if strength == "" {
		return ""
	}
	return ", " + strength
}

// observation draws a condition over readings, or over a fact; about one observable alone if it is named.
func (d *drawn) observation(facts map[string][]string, about string) term {
	if about != "" {
		i := slices.IndexFunc(d.observed, func(o drawnObservable) bool { return o.name == about })
		return d.leafOf(d.observed[i])
	}
	t := d.leafOf(pick(d, d.observed...))
	if len(facts) > 0 && d.chance(0.35) {
		t = d.ofFact(facts)
	} else if d.chance(0.12) {
		t = pick(d, term{"specific_gravity - size_density > 0.3", []string{"specific_gravity", "size_density"}},
			term{"ri - birefringence < 1.71", []string{"ri", "birefringence"}},
			term{"abs(specific_gravity - 3.5) < 0.6", []string{"specific_gravity"}},
			term{"(ri - 1) / (ri + 1) >= 0.25", []string{"ri"}}, term{"ri * ri - ri > 1.2", []string{"ri"}})
	}
	if d.chance(0.45) {
		o := d.leafOf(pick(d, d.observed...))
		t = term{fmt.Sprintf("(%s) %s (%s)", t.text, pick(d, "and", "or"), o.text),
			append(slices.Clone(t.names), o.names...)}
	}
	switch d.IntN(10) {
	case 0:
		t.text = "not (" + t.text + ")"
	case 1:
		t.text = pick(d, "stone.mounted", "not stone.wet", "stake >= 1000", "claim == 'word 1'",
			"stone.cut in ['round', 'oval']", "not seen(stone.warm)", "stone.carat > 0.7") + " and (" + t.text + ")"
	case 2:
		return term{}
	}
	return t
}

func (d *drawn) ofFact(facts map[string][]string) term {
	var known []string
	for _, name := range []string{"fact_0", "fact_1", "tint", "figured"} {
		if facts[name] != nil {
			known = append(known, name)
		}
	}
	if known == nil {
		return d.leafOf(d.observed[0])
	}
	name := pick(d, known...)
	switch name {
	case "tint":
		return term{pick(d, "tint == 'pale'", "tint != 'deep'", "tint in ['pale', 'deep']"), facts[name]}
	case "figured":
		return term{pick(d, "figured > 2.2", "figured < 0.27", "1.1 < figured < 2.6"), facts[name]}
	}
	return term{name, facts[name]}
}

// drawnCuts are where conditions cut a quantity.
var drawnCuts = map[string][]float64{"ri": {1.6, 1.9}, "birefringence": {0.005, 0.02}, "specific_gravity": {3, 4.5},
	"size_density": {3, 4.5}}

func (d *drawn) leafOf(o drawnObservable) term {
	one := []string{o.name}
	if d.chance(0.1) {
		return term{pick(d, "seen", "unclear") + "(" + o.name + ")", one}
	}
	switch o.kind {
	case "quantity":
		cut := drawnCuts[o.name]
		switch d.IntN(8) {
		case 0:
			return term{fmt.Sprintf("%s < %s < %s", figure(cut[0]), o.name, figure(cut[1])), one}
		case 1:
			return term{fmt.Sprintf("near(%s, %s, %s)", o.name, figure(cut[0]), figure((cut[1]-cut[0])/2)), one}
		}
		return term{fmt.Sprintf("%s %s %s", o.name, pick(d, "<", ">", "<", ">", "<=", ">="), figure(pick(d, cut...))),
			one}
	case "choice":
		switch d.IntN(5) {
		case 0, 1:
			return term{fmt.Sprintf("%s %s %s", o.name, pick(d, "in", "in", "not in"),
				strings.ReplaceAll(quoted(some(d, o.words, 2)), `"`, "'")), one}
		case 2:
			return term{fmt.Sprintf("%s != '%s'", o.name, pick(d, o.words...)), one}
		}
		return term{fmt.Sprintf("%s == '%s'", o.name, pick(d, o.words...)), one}
	}
	return term{fmt.Sprintf("'%s' in %s", pick(d, o.words...), o.name), one}
}
