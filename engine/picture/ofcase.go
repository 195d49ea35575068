package picture

import (
	"cmp"
	"math"
	"slices"

	"whystone/engine"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/physics"
	"whystone/kb/vocab"
)

// gravity is the property that densities are readings of.
const gravity = "specific_gravity"

// coverage is the coverage factor k of the intervals that are drawn.
const coverage = 2

// OfCase is the plane of a case that was judged: every material, what became of it, and what was read of the stone.
func OfCase(rs *kb.Ruleset, c *casefile.Case, e *engine.Explained) *Plane {
	p := &Plane{Title: "Index and specific gravity of " + cmp.Or(e.Case, "the stone")}
	var named *kb.Material
	if e.Named != nil {
		named = rs.Node(*e.Named)
	}
	for _, m := range e.Candidates {
		standing := Open
		if n := rs.Node(m.Material); n != nil && named != nil && (n.Under(named) || named.Under(n)) {
			standing = Named
		}
		p.add(rs, m.Material, m.Name, standing)
	}
	for _, m := range e.Excluded {
		p.add(rs, m.Material, m.Name, RuledOut)
	}
	for _, r := range c.Readings {
		if r.Usable() {
			p.read(r)
		}
	}
	return p
}

// add puts a material into the plane, if its sheet gives both ranges and it is not there already.
func (p *Plane) add(rs *kb.Ruleset, id, name string, standing Standing) {
	m := rs.Node(id)
	if m == nil || slices.ContainsFunc(p.Areas, func(a Area) bool { return a.Name == name }) {
		return
	}
	if index, density := m.Ranges[vocab.RefractiveIndex], m.Ranges[gravity]; index != nil && density != nil {
		p.Areas = append(p.Areas, Area{name, Span{index.Low, index.High}, Span{density.Low, density.High}, standing})
	}
}

// read puts a reading into the plane, if it is of one of its axes; a reflectance tells of the index by Fresnel's
// equation.
func (p *Plane) read(r *casefile.Reading) {
	says := phrase.InWords(r.Name()) + " " + phrase.ReadingText(r)
	switch r.Observable.Property {
	case gravity:
		p.Density = append(p.Density, Reading{says, spanOf(r)})
	case vocab.RefractiveIndex:
		p.Index = append(p.Index, Reading{says, spanOf(r)})
	case vocab.Reflectance:
		index := func(percent float64) float64 { return physics.IndexFromReflectance(clamp(0, percent, 99)) }
		s := spanOf(r)
		p.Index = append(p.Index, Reading{says, Span{index(s.Low), index(s.High)}})
	}
}

// spanOf is the expanded interval of a reading, of two rays from the one to the other, or its hard limits.
func spanOf(r *casefile.Reading) Span {
	switch r.Form {
	case casefile.Interval:
		return Span{limit(r.Lo), limit(r.Hi)}
	case casefile.Pair:
		return Span{r.Value - coverage*r.U, r.High + coverage*r.HighU}
	}
	return Span{r.Value - coverage*r.U, r.Value + coverage*r.U}
}

// limit is a hard limit as it was written: one that was left out of its interval lies a last place beside it.
func limit(v float64) float64 {
	if math.IsInf(v, 0) {
		return v
	}
	return math.Round(v*1e9) / 1e9
}
