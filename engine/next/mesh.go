package next

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/integrate/quad"

	"whystone/engine/next/possible"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/condition"
)

// mesh is how finely a quantity's possible values are integrated. The values that a test can read are cut where the
// readings' density or the engine's work on them changes: at the ends of the materials' ranges, blurred by the reading's
// uncertainty, where a reading begins to exclude, and at the limits that rules compare with. Each cell is a
// Gauss-Legendre rule. Neighbouring nodes are then joined until they stand for grain of all outcomes, and the node in
// their middle is played for them.
type mesh struct {
	nodes int     // of a cell's rule
	parts int     // equal parts of a cell, each with a rule of its own
	grain float64 // the most that one play stands for
	least float64 // the ends of ranges of leaves with less weight make no cells
}

// The meshes in use: for the first test, and for both of two tests one after the other.
var (
	fine   = mesh{nodes: 2, parts: 1, grain: 1.0 / 48, least: 1e-3}
	coarse = mesh{nodes: 2, parts: 1, grain: 1.0 / 12, least: 1e-2}
)

// overlap is how many joint standard uncertainties apart two quantities of one property may be and still agree; it is
// also the factor by which conditions expand an uncertainty.
const overlap = 2

// stretches lists what a quantity can come to: stretches of values that the test can read, and the bounds beyond.
func (p *player) stretches(c *casefile.Case, s *possible.Source, w []float64, m mesh) []outcome {
	var out []outcome
	cells := p.cells(c, s, w, m)
	x, gauss := make([]float64, m.nodes), make([]float64, m.nodes)
	g := gather{p: p, s: s, w: w, grain: m.grain}
	for i := 1; i < len(cells); i++ {
		lo, width := cells[i-1], (cells[i]-cells[i-1])/float64(m.parts)
		for k := range m.parts {
			quad.Legendre{}.FixedLocations(x, gauss, lo+float64(k)*width, lo+float64(k+1)*width)
			for n := range x {
				g.add(x[n], gauss[n])
			}
		}
	}
	out = g.end()
	beyond := func(r *casefile.Reading) {
		like := p.likely(r, w, make([]float64, 0, len(w)))
		out = append(out, outcome{reading: r, like: like, mass: dot(w, like), lo: r.Lo, hi: r.Hi})
	}
	if s.Limits[0] > s.Observable.Span[0] {
		beyond(s.Below())
	}
	if s.Limits[1] < s.Observable.Span[1] {
		beyond(s.Above())
	}
	return out
}

// gather joins neighbouring nodes to stretches.
type gather struct {
	p     *player
	s     *possible.Source
	w     []float64
	grain float64
	nodes []node
	mass  float64
	like  []float64
	out   []outcome
}

type node struct{ x, mass float64 }

func (g *gather) add(x, gauss float64) {
	g.like = g.p.likely(g.s.Value(x), g.w, g.like)
	mass := dot(g.w, g.like) * gauss
	if len(g.nodes) > 0 && g.mass+mass > g.grain {
		g.cut()
	}
	if len(g.nodes) == 0 {
		g.out = append(g.out, outcome{like: make([]float64, len(g.w)), lo: x})
	}
	o := &g.out[len(g.out)-1]
	o.hi = x
	for i, l := range g.like {
		o.like[i] += l * gauss
	}
	g.nodes, g.mass = append(g.nodes, node{x, mass}), g.mass+mass
}

// cut ends a stretch: its middle by mass is played for it.
func (g *gather) cut() {
	o, sum := &g.out[len(g.out)-1], 0.0
	for _, n := range g.nodes {
		if sum += n.mass; sum >= g.mass/2 {
			o.reading = g.s.Value(n.x)
			break
		}
	}
	o.mass = g.mass
	g.nodes, g.mass = g.nodes[:0], 0
}

func (g *gather) end() []outcome {
	if len(g.nodes) > 0 {
		g.cut()
	}
	return slices.DeleteFunc(g.out, func(o outcome) bool { return o.reading == nil })
}

// cells are the ends of the cells, rising.
func (p *player) cells(c *casefile.Case, s *possible.Source, w []float64, m mesh) []float64 {
	misfit := p.e.Ruleset.Policy.Misfit
	ends := []float64{s.Limits[0], s.Limits[1]}
	around := func(x float64, steps ...float64) {
		for _, k := range steps {
			ends = append(ends, x+k*s.U)
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
			both := overlap * math.Hypot(r.U, s.U)
			ends = append(ends, r.Value-both, r.Value+both)
		}
	}
	for _, cut := range cuts(p.e.Ruleset, s.Observable.Index) {
		around(cut, -overlap, overlap)
	}
	return within(ends, s)
}

// within sorts the ends of cells, and drops those that lie outside what can be read or hardly apart.
func within(ends []float64, s *possible.Source) []float64 {
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
