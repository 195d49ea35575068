package engine_test

import (
	"maps"
	"math"
	"slices"
	"strings"
)

// naiveRule is a rule as written, with what its text comes to.
type naiveRule struct {
	id, family, status string
	sheet              raw
	establishes        []string
	setsAside          []string
	callsFor, forbids  []string
	excludes           []int // leaves
	weights            []naiveWeight
	withholds          *naiveWithholding
	basis              []string // what its evidence rests on
	observes           []string // the observables of it
}

type naiveWeight struct {
	leaves   []int
	unlisted bool
	c        float64
}

type naiveWithholding struct {
	names, beside []int
	until         string
}

// readRule: `excludes`, `supports`, `weakens` name "a list of materials or groups, or `where:` an expr condition over
// `material`", and evidence unlisted too.
func (n *naive) readRule(s raw) {
	r := &naiveRule{id: s.at("rule").text(""), family: s.at("family").text(""), status: s.at("status").text("active"),
		sheet: s, establishes: s.at("establishes").keys(), setsAside: s.at("sets_aside").texts(),
		callsFor: s.at("calls_for").texts(), forbids: s.at("forbids").texts()}
	if s.has("excludes") {
		r.excludes, _ = n.selected(s.at("excludes"))
	}
	for key, sign := range map[string]float64{"supports": 1, "weakens": -1} {
		for _, it := range s.at(key).list() {
			w := naiveWeight{c: sign * math.Log(it.at("ratio").or(n.strength[it.at("strength").text("")]))}
			w.leaves, w.unlisted = n.selected(it)
			r.weights = append(r.weights, w)
		}
	}
	if w := s.at("withholds"); !w.none() {
		r.withholds = &naiveWithholding{until: w.at("until").text("")}
		r.withholds.names, _ = n.selected(w.at("names"))
		r.withholds.beside, _ = n.selected(w.at("beside"))
	}
	n.rules = append(n.rules, r)
}

// selected lists the leaves at or below some nodes, or those for which a condition holds.
func (n *naive) selected(v raw) (leaves []int, unlisted bool) {
	if v.has("where") {
		for i, leaf := range n.leaves {
			if n.ofMaterial(leaf).is(n.parse(v.at("where").text(""))) == isHolding {
				leaves = append(leaves, i)
			}
		}
		return leaves, false
	}
	if v.isMap() {
		v = v.at("materials")
	}
	for _, id := range v.texts() {
		if id == "unlisted" {
			unlisted = true
			continue
		}
		leaves = append(leaves, n.node(id).under...)
	}
	slices.Sort(leaves)
	return slices.Compact(leaves), unlisted
}

// ofMaterial: "`where:` is decided at load for each material: a range holds or fails only as a whole, and a missing
// property is undecided". Of an outcome what its sheet names and may be seen counts.
func (n *naive) ofMaterial(leaf *naiveNode) *wording {
	return &wording{near: func(float64, float64) {}, met: map[string]bool{}, of: func(name string) meaning {
		name = strings.TrimPrefix(name, "material.")
		if name == "origin" {
			return meaning{here: true, choices: []set{setOf(leaf.origin)}}
		}
		property, end, _ := strings.Cut(name, ".")
		if r := leaf.ranges[property]; r != nil {
			switch end {
			case "low":
				return meaning{here: true, amounts: []amount{exactly(r.low)}}
			case "high":
				return meaning{here: true, amounts: []amount{exactly(r.high)}}
			}
			return meaning{here: true, amounts: []amount{{bounded: true, low: r.low, high: r.high}}}
		}
		open := set{}
		for w, word := range leaf.words[name] {
			open[w] = word != "never"
		}
		maps.DeleteFunc(open, func(_ string, may bool) bool { return !may })
		o := n.observables[name]
		if len(open) == 0 || o == nil {
			return meaning{}
		}
		return meaning{here: true, choices: []set{open}, covers: o.covers}
	}}
}

// settle finds what a rule rests on: "the observables that it names (in `if` and `unless`, through facts)", of sets the
// features; a set of which it names none, all.
func (n *naive) settle(r *naiveRule) {
	atoms, observes := set{}, set{}
	done := map[*naiveRule]bool{}
	var look func(by *naiveRule)
	look = func(by *naiveRule) {
		if done[by] {
			return
		}
		done[by] = true
		for _, text := range by.texts(by != r) {
			named, features := names(n.parse(text))
			for _, name := range named {
				for _, maker := range n.rules {
					if maker.status == "active" && slices.Contains(maker.establishes, name) {
						look(maker)
					}
				}
				o := n.observables[name]
				if o == nil {
					continue
				}
				observes[name] = true
				asked := features[name]
				if asked == nil {
					asked = o.words
				}
				if o.kind != "features" {
					atoms[name] = true
					continue
				}
				for _, f := range asked {
					atoms[name+": "+f] = true
				}
			}
		}
	}
	look(r)
	r.basis, r.observes = slices.Sorted(maps.Keys(atoms)), slices.Sorted(maps.Keys(observes))
	if r.family == "" && len(r.observes) > 0 {
		r.family = n.observables[r.observes[0]].family
	}
}

// texts are a rule's conditions, with how it computes what it establishes.
func (r *naiveRule) texts(established bool) (out []string) {
	for _, key := range []string{"if", "unless"} {
		if r.sheet.has(key) {
			out = append(out, r.sheet.at(key).text(""))
		}
	}
	for _, fact := range r.establishes {
		if is := r.sheet.at("establishes").at(fact).at("is"); established && !is.none() {
			out = append(out, is.text(""))
		}
	}
	return out
}

// advises: "a rule that only cautions or asks for a test".
func (r *naiveRule) advises() bool {
	return !slices.ContainsFunc([]string{"excludes", "supports", "weakens", "sets_aside", "establishes", "forbids",
		"sends_on", "withholds"}, r.sheet.has)
}
