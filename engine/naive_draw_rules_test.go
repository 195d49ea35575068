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

// term is a condition as text, with the observables that it names.
type term struct {
	text  string
	names []string
}

func (d *drawn) rules() {
	d.line(0, "rules:")
	d.line(1, "- {rule: nothing, says: nothing., if: stone.coated, cautions: none., source: drawn}")
	facts := map[string][]string{}
	for i := range d.IntN(3) {
		name := fmt.Sprintf("fact_%d", i%2)
		t := d.observation(nil, "")
		facts[name] = append(facts[name], t.names...)
		d.rule(fmt.Sprintf("f%d", i), t, term{}, []string{fmt.Sprintf("establishes: {%s: true}", name)}, "")
	}
	for i := range d.IntN(4) {
		if d.chance(0.5) {
			t := pick(d, term{text: "stone.mounted"}, term{text: "not stone.wet"}, term{text: `thermal == "unsteady"`, names: []string{"thermal"}})
			d.rule(fmt.Sprintf("a%d", i), t, term{}, []string{"sets_aside: " + quoted(some(d, setAsideObservables, 1+d.IntN(2)))}, "")
		}
	}
	for i := range d.IntN(9) {
		d.evidenceRule(fmt.Sprintf("r%d", i), facts)
	}
	if d.chance(0.1) {
		d.rule("s0", d.observation(facts, ""), term{}, []string{"sends_on: drawn."}, "")
	}
	d.askingRules(facts)
	if d.hasFaulty = d.chance(0.1); d.hasFaulty {
		d.rule("z0", term{text: "1 / (stone.carat - 1) > 2"}, term{}, []string{"cautions: drawn."}, "")
	}
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
		effects = append(effects, "supports: "+d.selection(d.strength()))
	}
	if which == 3 || which == 6 {
		effects = append(effects, "weakens: "+d.selection(d.strength()))
	}
	if which >= 4 && len(t.names) > 0 {
		effects = append(effects, "excludes: "+d.selection(""))
	}
	if len(effects) == 0 {
		effects = append(effects, "weakens: "+d.selection(d.strength()))
	}
	status := ""
	switch d.IntN(12) {
	case 0:
		status = "status: draft"
	case 1:
		status = "since: 2031-06-01"
	case 2:
		status = "until: 2031-06-01"
	}
	d.rule(id, t, unless, effects, status)
}

func (d *drawn) rule(id string, t, unless term, effects []string, more string) {
	d.line(1, "- rule: %s", id)
	d.line(2, "says: drawn.")
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
	return pick(d, "strength: weak", "strength: moderate", "strength: moderately strong", "ratio: 10", "ratio: 1.7", "ratio: 4.1", "ratio: 52", "ratio: 10000")
}

func (d *drawn) selection(strength string) string {
	if d.chance(0.15) {
		where := pick(d, "material.ri.low > 1.7", `material.optic_character == 'uniaxial'`, "material.specific_gravity.high < 3.6")
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
	if len(facts) > 0 && d.chance(0.25) {
		for _, name := range []string{"fact_0", "fact_1"} {
			if names, ok := facts[name]; ok {
				return term{name, names}
			}
		}
	}
	t := d.leafOf(pick(d, d.observed...))
	if d.chance(0.45) {
		o := d.leafOf(pick(d, d.observed...))
		t = term{fmt.Sprintf("(%s) %s (%s)", t.text, pick(d, "and", "or"), o.text), append(slices.Clone(t.names), o.names...)}
	}
	switch d.IntN(10) {
	case 0:
		t.text = "not (" + t.text + ")"
	case 1:
		t.text = pick(d, "stone.mounted", "not stone.wet") + " and (" + t.text + ")"
	case 2:
		return term{}
	}
	return t
}

func (d *drawn) leafOf(o drawnObservable) term {
	one := []string{o.name}
	if d.chance(0.08) {
		return term{pick(d, "seen", "unclear") + "(" + o.name + ")", one}
	}
	switch o.kind {
	case "quantity":
		cut := map[string][]float64{"ri": {1.6, 1.9}, "birefringence": {0.005, 0.02}, "specific_gravity": {3, 4.5}, "size_density": {3, 4.5}}[o.name]
		return term{fmt.Sprintf("%s %s %s", o.name, pick(d, "<", ">"), figure(pick(d, cut...))), one}
	case "choice":
		if d.chance(0.5) {
			return term{fmt.Sprintf("%s in %s", o.name, strings.ReplaceAll(quoted(some(d, o.words, 2)), `"`, "'")), one}
		}
		return term{fmt.Sprintf("%s == '%s'", o.name, pick(d, o.words...)), one}
	}
	return term{fmt.Sprintf("'%s' in %s", pick(d, o.words...), o.name), one}
}
