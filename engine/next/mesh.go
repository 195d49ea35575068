package next

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/integrate/quad"

	"whystone/engine/next/feasible"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/condition"
)

// mesh is how finely a quantity's possible values are integrated. The values that a test can read are cut where the
// readings' density or the engine's work on them changes: at the ends of the materials' ranges, blurred by the
// reading's uncertainty, where a reading begins to exclude, and at the limits that rules compare with. Each cell is a
// Gauss-Legendre rule. Neighbouring nodes are then joined until they stand for grain of all outcomes, and the node in
// their middle is played for them.
type mesh struct {
	points int     // of a cell's rule
	parts  int     // equal parts of a cell, each with a rule of its own
	grain  float64 // the most that one play stands for
	least  float64 // the ends of ranges of leaves with less weight make no cells
}

// The meshes in use: for the first test, and for both of two tests one after the other.
var (
	fine   = mesh{points: 2, parts: 1, grain: 1.0 / 96, least: 1e-3}
	coarse = mesh{points: 2, parts: 1, grain: 1.0 / 12, least: 1e-2}
)

// overlap is how many joint standard uncertainties apart two quantities of one property may be and still agree; it is
// also the factor by which conditions expand an uncertainty.
const overlap = 2

// node is a value with its part of the integral, and how likely it is under each leaf, as a density.
type node struct {
	x, gauss float64
	like     []float64
}

// nodes lays the rule of every cell, and sorts its nodes.
func (m mesh) nodes(ends []float64, like func(x float64) []float64) []node {
	out := make([]node, 0, max(0, len(ends)-1)*m.parts*m.points)
	x, gauss := make([]float64, m.points), make([]float64, m.points)
	for i := 1; i < len(ends); i++ {
		lo, width := ends[i-1], (ends[i]-ends[i-1])/float64(m.parts)
		for k := range m.parts {
			quad.Legendre{}.FixedLocations(x, gauss, lo+float64(k)*width, lo+float64(k+1)*width)
			for n := range x {
				out = append(out, node{x: x[n], gauss: gauss[n], like: like(x[n])})
			}
		}
	}
	slices.SortFunc(out, func(a, b node) int { return cmp.Compare(a.x, b.x) })
	return out
}

// stretch is neighbouring nodes: how likely they are together, and their middle by mass.
type stretch struct {
	lo, hi, x float64
	mass      float64
	like      []float64 // by leaf, a probability
}

// join puts neighbouring nodes together until they stand for grain, under the leaves' weights w.
func join(nodes []node, w []float64, grain float64) []stretch {
	var out []stretch
	masses := make([]float64, len(nodes))
	for i, n := range nodes {
		masses[i] = dot(w, n.like) * n.gauss
	}
	for from := 0; from < len(nodes); {
		s := stretch{lo: between(nodes, from), mass: masses[from]}
		to := from + 1
		for to < len(nodes) && s.mass+masses[to] <= grain {
			s.mass += masses[to]
			to++
		}
		s.hi, s.like = between(nodes, to), make([]float64, len(w))
		half := s.mass / 2
		for i := from; i < to; i++ {
			for k, l := range nodes[i].like {
				s.like[k] += l * nodes[i].gauss
			}
			if half -= masses[i]; half <= 0 {
				s.x, half = nodes[i].x, math.Inf(1)
			}
		}
		out = append(out, s)
		from = to
	}
	return out
}

// between is the middle between a node and the one before it; at the ends of the list, the node there.
func between(nodes []node, i int) float64 {
	switch i {
	case 0:
		return nodes[0].x
	case len(nodes):
		return nodes[i-1].x
	}
	return (nodes[i-1].x + nodes[i].x) / 2
}

// stretches lists what a quantity can come to: stretches of values that the test can read, and the bounds beyond.
func (p *player) stretches(c *casefile.Case, s *feasible.Source, before *repeat, w []float64, m mesh) []outcome {
	alive := aliveOf(w)
	nodes := m.nodes(p.cells(c, s, before, w, m), func(x float64) []float64 {
		r := s.PutValue(&p.readings[0], x)
		return before.given(p.likely(r, alive, p.scratch()), r.Blunder, before.value(x, r.U))
	})
	var out []outcome
	for _, st := range join(nodes, w, m.grain) {
		out = append(out, outcome{reading: s.Value(st.x), mass: st.mass, like: st.like, lo: st.lo, hi: st.hi})
	}
	return append(out, p.beyond(s, before, w)...)
}

// beyond lists the bounds that a test gives where a value lies beyond what it can read.
func (p *player) beyond(s *feasible.Source, before *repeat, w []float64) []outcome {
	var out []outcome
	bound := func(r *casefile.Reading) {
		like := before.given(p.likely(r, aliveOf(w), p.numbers()), r.Blunder, before.bound(r))
		out = append(out, outcome{reading: r, like: like, mass: dot(w, like), lo: r.Lo, hi: r.Hi})
	}
	if s.Limits[0] > s.Observable.Span[0] {
		bound(s.Below())
	}
	if s.Limits[1] < s.Observable.Span[1] {
		bound(s.Above())
	}
	return out
}

// inner is how many differences of the rays are played for a stretch of the low ray.
const inner = 4

// turns lists what a full turn can come to: the low ray and its difference from the high one, each as its sheet says. A
// material with one ray gives a difference within the uncertainty of zero on either side of it, and is read as none.
func (p *player) turns(c *casefile.Case, s, split *feasible.Source, before *repeat, w []float64, m mesh) []outcome {
	alive := aliveOf(w)
	lows := m.nodes(p.cells(c, s, before, w, m), func(x float64) []float64 {
		r := s.Rays(x, x)
		return before.given(p.likely(r, alive, p.scratch()), r.Blunder, before.low(x, s.U(x)))
	})
	twin := split.Apart(s, p.e.Ruleset.Policy.Misfit)
	differences := m.nodes(p.cells(c, twin, before, w, m), func(d float64) []float64 {
		return before.given(p.different(s, d, alive), s.Rays(s.Limits[0], s.Limits[0]).Blunder,
			before.difference(d, twin.U(d)))
	})
	var out []outcome
	joint := make([]float64, len(w))
	for _, low := range join(lows, w, m.grain) {
		for i := range joint {
			joint[i] = w[i] * low.like[i]
		}
		for _, d := range join(differences, joint, math.Min(m.grain, low.mass/inner)) {
			for i := range d.like {
				d.like[i] *= low.like[i]
			}
			out = append(out, outcome{reading: s.Rays(low.x, low.x+math.Max(0, d.x)), mass: d.mass, like: d.like,
				lo: low.lo, hi: low.hi, apart: [2]float64{math.Max(0, d.lo), math.Max(0, d.hi)}})
		}
	}
	return append(out, p.beyond(s, before, w)...)
}

// different is how likely a difference of two rays is under each leaf, as a density.
func (p *player) different(s *feasible.Source, d float64, alive []int) []float64 {
	low := s.Limits[0]
	r := s.Rays(low, low)
	r.High = low + d
	return p.spread(p.sheet.Difference(r, alive, p.c), alive, p.scratch())
}

// cells are the ends of the cells, rising.
func (p *player) cells(c *casefile.Case, s *feasible.Source, before *repeat, w []float64, m mesh) []float64 {
	misfit := p.e.Ruleset.Policy.Misfit
	ends := append(before.around(s), s.Limits[0], s.Limits[1])
	around := func(x float64, steps ...float64) {
		u := s.U(x)
		for _, k := range steps {
			ends = append(ends, x+k*u)
		}
	}
	for i, leaf := range p.e.Ruleset.Leaves {
		r := leaf.Ranges[s.Observable.Property]
		if r == nil || w[i] < m.least {
			continue
		}
		half := math.Max(0, s.Observable.Resolution-(r.High-r.Low)) / 2 // it is widened by so much on either side
		around(r.Low-half, -2, 0, 2)
		around(r.High+half, -2, 0, 2)
		around(r.Low-r.Tolerance, -misfit)
		around(r.High+r.Tolerance, misfit)
		if r.Typical != nil {
			around(r.Typical[0], -2, 0, 2)
			around(r.Typical[1], -2, 0, 2)
		}
	}
	for _, r := range c.Readings {
		if r.Form == casefile.Value && r.Observable.Property == s.Observable.Property {
			both := overlap * math.Hypot(r.U, s.U(r.Value))
			ends = append(ends, r.Value-both, r.Value+both)
		}
	}
	for _, cut := range cuts(p.e.Ruleset, s.Observable.Index) {
		around(cut, -overlap, overlap)
	}
	return within(ends, s)
}

// within sorts the ends of cells, and drops those that lie outside what can be read or hardly apart.
func within(ends []float64, s *feasible.Source) []float64 {
	slices.Sort(ends)
	least := 1e-9 * (s.Limits[1] - s.Limits[0])
	out := []float64{s.Limits[0]}
	for _, x := range ends {
		if x > out[len(out)-1]+least && x < s.Limits[1]-least {
			out = append(out, x)
		}
	}
	return append(out, s.Limits[1])
}

// cuts lists the limits that rules compare a quantity with.
func cuts(rs *kb.Ruleset, slot int) []float64 {
	var out []float64
	var walk func(n *condition.Node)
	walk = func(n *condition.Node) {
		if l := n.Leaf; l != nil && l.Slot == slot && (l.Kind == condition.Below || l.Kind == condition.AtMost) {
			out = append(out, l.Cut)
		}
		for _, k := range n.Kids {
			walk(k)
		}
	}
	for _, r := range rs.Order {
		for _, c := range []*condition.Condition{r.If, r.Unless} {
			if c != nil && c.Root != nil {
				walk(c.Root)
			}
		}
	}
	return out
}
