package engine_test

import (
	"cmp"
	"slices"
	"strings"
)

type naiveNode struct {
	id, name     string
	told         string // by which id a verdict tells it: of others, the group's
	also         []string
	up           *naiveNode
	group, other bool
	nameable     bool
	origin       string // own or inherited
	grown        string // own
	counter      string // own
	ranges       map[string]*naiveRange
	words        map[string]map[string]string            // how often each outcome is seen, by observable
	strengths    map[string]map[string]map[string]string // how often a feature looks how strong
	under        []int                                   // the leaves at or below it
	level        int
	inVerdicts   raw
	sheet        raw
	relations    []naiveRelation
}

type naiveRange struct {
	low, high, tolerance float64
	typical              *[2]float64
	derived              bool // from another property
}

// readTree: "A group's sheet carries what its leaves share, and leaves inherit and may narrow it". "`others`: members
// without a sheet of their own, each one more leaf with the figures that the group's sheet gives or inherits."
func (n *naive) readTree(sheets []raw) {
	byID := map[string]*naiveNode{}
	for _, s := range sheets {
		m := &naiveNode{group: s.has("group"), name: s.at("name").text(""), also: s.at("also").texts(),
			origin: s.at("origin").text(""), grown: s.at("grown").text(""), counter: s.at("seen_at_counter").text(""),
			ranges: map[string]*naiveRange{}, words: map[string]map[string]string{}, inVerdicts: s.at("in_verdicts"),
			sheet: s, strengths: map[string]map[string]map[string]string{}}
		m.id = s.at("group").text(s.at("material").text(""))
		m.told, m.nameable = m.id, !m.group || s.at("nameable").truth()
		for _, p := range s.at("properties").keys() {
			v := s.at("properties").at(p)
			r := &naiveRange{low: v.at("range").pair()[0], high: v.at("range").pair()[1],
				tolerance: v.at("tolerance").or(0)}
			if v.has("typical") {
				pair := v.at("typical").pair()
				r.typical = &pair
			}
			m.ranges[p] = r
		}
		for _, kind := range []string{"outcomes", "features"} {
			for _, o := range s.at(kind).keys() {
				m.words[o] = map[string]string{}
				seen := s.at(kind).at(o).at("seen")
				if !seen.isMap() { // "A single word means `always`"
					m.words[o][seen.text("")] = "always"
				}
				for _, w := range seen.keys() {
					m.words[o][w] = seen.at(w).text("")
				}
				m.readStrengths(o, s.at(kind).at(o).at("strength"))
			}
		}
		byID[m.id] = m
		n.nodes = append(n.nodes, m)
	}
	for _, s := range sheets {
		m := byID[s.at("group").text(s.at("material").text(""))]
		m.up = byID[s.at("under").text("")]
		for _, o := range s.at("others").list() {
			origin := o.at("origin").text("")
			n.leaves = append(n.leaves, &naiveNode{id: m.id + ":" + origin, told: m.id, up: m, other: true,
				origin: origin, counter: o.at("seen_at_counter").text(""), ranges: map[string]*naiveRange{},
				words: map[string]map[string]string{}, strengths: map[string]map[string]map[string]string{}})
		}
		if !m.group {
			n.leaves = append(n.leaves, m)
		}
	}
	byIDs := func(a, b *naiveNode) int { return strings.Compare(a.id, b.id) }
	slices.SortFunc(n.nodes, byIDs)
	slices.SortFunc(n.leaves, byIDs)
	for _, m := range n.nodes {
		n.inherit(m)
	}
	for i, leaf := range n.leaves {
		if leaf.other {
			n.inherit(leaf)
		}
		for m := leaf; m != nil; m = m.up {
			m.under = append(m.under, i)
		}
	}
}

// inherit hands down what stands above a node. "Reflectance of a material follows from its refractive index by
// Fresnel's equation unless a sheet gives it": ((n - 1) / (n + 1))^2 of what falls on it.
func (n *naive) inherit(m *naiveNode) {
	for up := m.up; up != nil; up = up.up {
		m.level++
		m.origin = cmp.Or(m.origin, up.origin)
		for p, r := range up.ranges {
			if m.ranges[p] == nil && !r.derived {
				m.ranges[p] = r
			}
		}
		for o, words := range up.words {
			if m.words[o] == nil {
				m.words[o], m.strengths[o] = words, up.strengths[o]
			}
		}
	}
	n.relate(m)
	if r := m.ranges["ri"]; r != nil && m.ranges["reflectance"] == nil && n.observables["reflectance"] != nil {
		reflected := func(n float64) float64 { return 100 * (n - 1) / (n + 1) * (n - 1) / (n + 1) }
		m.ranges["reflectance"] = &naiveRange{low: reflected(r.low), high: reflected(r.high), derived: true}
	}
}

// within tells whether a node is another or lies below it.
func within(m, above *naiveNode) bool {
	for ; m != nil; m = m.up {
		if m == above {
			return true
		}
	}
	return false
}

// node finds one by its id.
func (n *naive) node(id string) *naiveNode {
	for _, m := range n.nodes {
		if m.id == id {
			return m
		}
	}
	return nil
}

// nameable lists the nodes that a verdict may name, the deepest first.
func (n *naive) nameable() []*naiveNode {
	var out []*naiveNode
	for _, m := range n.nodes {
		if m.nameable {
			out = append(out, m)
		}
	}
	slices.SortFunc(out, func(a, b *naiveNode) int { return cmp.Or(b.level-a.level, strings.Compare(a.id, b.id)) })
	return out
}

// nameableAt is the lowest nameable node at or above one, or nil.
func nameableAt(m *naiveNode) *naiveNode {
	for ; m != nil && !m.nameable; m = m.up {
		continue
	}
	return m
}
