package load

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

var relationKeys = []string{"of", "by", "ray", "through", "within", "source", "note"}

// relations reads which properties of a material go with another quantity. A sheet that says any says all of them: an
// empty list takes away what its group says.
func (s *sheet) relations(m *kb.Material, v *vocab.Vocabulary) {
	list := s.Get("relations")
	if list.IsNull() {
		return
	}
	m.Relations = map[string]*kb.Relation{}
	for _, n := range s.list(list) {
		if !n.Keys(s.out, relationKeys...) {
			continue
		}
		r := s.relation(n, m, v)
		switch before := m.Relations[cmp.Or(r.Of, "?")]; {
		case r.Of == "" || r.By == nil || len(r.Through) == 0:
		case before != nil:
			s.errorf(diag.GivenTwice, n, "%s of %q goes by two quantities; it may go by one", r.Of, m.ID).
				Related = []diag.Related{{Span: before.Span, Says: "here first"}}
		default:
			m.Relations[r.Of] = r
		}
	}
}

func (s *sheet) relation(n *syntax.Node, m *kb.Material, v *vocab.Vocabulary) *kb.Relation {
	r := &kb.Relation{Source: s.needText(n, "source"), SaidBy: m, Span: n.Span}
	r.Of = s.related(n, "of", kb.Properties(v))
	if by := s.related(n, "by", quantities(v)); by != "" {
		r.By = v.Observable(by)
	}
	if r.Of != "" && r.By != nil && !s.apart(n, r, v) {
		return &kb.Relation{}
	}
	s.ray(n, r)
	s.has(n, "within", "\"within\" is missing: how far from the line a stone may lie, in the unit of %s",
		cmp.Or(r.Of, "what goes with it"))
	r.Within = s.within(n, "within", 0, 0, math.Inf(1))
	r.Through = s.line(n, r)
	return r
}

// related is the name of a property or quantity that tests measure.
func (s *sheet) related(n *syntax.Node, key string, known []string) string {
	name := s.needText(n, key)
	if name != "" && !slices.Contains(known, name) {
		s.unknown(diag.UnknownName, n.Get(key), name, known, "no test measures a quantity %q", name)
		return ""
	}
	return name
}

// quantities are the observables that are measured.
func quantities(v *vocab.Vocabulary) (out []string) {
	for _, o := range v.Observables {
		if o.Kind == vocab.Quantity {
			out = append(out, o.Name)
		}
	}
	return out
}

// apart sees that the two rest on unlike physics: evidence that is counted by itself is not counted by what it came
// with.
func (s *sheet) apart(n *syntax.Node, r *kb.Relation, v *vocab.Vocabulary) bool {
	for _, o := range v.Observables {
		if o.Kind == vocab.Quantity && o.Property == r.Of && o.Family == r.By.Family {
			s.errorf(diag.NotAllowed, n.Get("by"), "%s can't go by %s: both rest on %s", r.Of, r.By.Name, o.Family).
				Detail = "A relation is between quantities of two families."
			return false
		}
	}
	return true
}

// ray reads which ray of the index the points are of.
func (s *sheet) ray(n *syntax.Node, r *kb.Relation) {
	given := n.Get("ray")
	of := r.By != nil && r.By.Property == vocab.RefractiveIndex
	if r.By != nil && !of && !given.IsNull() {
		s.errorf(diag.NotAllowed, given, "only the refractive index has rays; this relation goes by %s", r.By.Name)
		return
	}
	if ray := oneOf(s, n, "ray", kb.MeanRay, kb.Rays...); of {
		r.Ray = ray
	}
}

// line reads the points that a relation goes through.
func (s *sheet) line(n *syntax.Node, r *kb.Relation) [][2]float64 {
	v := n.Get("through")
	if !s.has(n, "through", "\"through\" is missing: the points [[%s, %s], ...]", name(r.By), cmp.Or(r.Of, "value")) {
		return nil
	}
	var out [][2]float64
	for _, at := range s.list(v) {
		items, ok := at.List(s.out)
		if !ok {
			return nil
		}
		if len(items) != 2 {
			s.errorf(diag.WrongKind, at, "a point takes two numbers: [%s, %s]", name(r.By), cmp.Or(r.Of, "value"))
			return nil
		}
		x, ok1 := items[0].Num(s.out)
		y, ok2 := items[1].Num(s.out)
		switch last := len(out) - 1; {
		case !ok1 || !ok2:
			return nil
		case last >= 0 && x <= out[last][0]:
			s.errorf(diag.BadNumber, items[0], "the points rise in %s: %g comes after %g", name(r.By), x, out[last][0])
			return nil
		}
		out = append(out, [2]float64{x, y})
	}
	if len(out) < 2 {
		s.errorf(diag.WrongKind, v, "a line goes through two points or more")
		return nil
	}
	return out
}

func name(o *vocab.Observable) string {
	if o == nil {
		return "value"
	}
	return o.Name
}

// settleRelations hands down the relations of a group, and holds a node's own against the ranges that it gives or
// inherits.
func (t *tree) settleRelations(m, p *kb.Material) {
	if m.Relations == nil {
		if p != nil {
			m.Relations = p.Relations
		}
		return
	}
	for _, of := range sortedKeys(m.Relations) {
		r := m.Relations[of]
		t.withinRanges(m, r)
		t.noCircle(m, r)
	}
}

// withinRanges sees that the ranges are there that a relation narrows and goes by, and that its points lie in them and
// in what tests can find.
func (t *tree) withinRanges(m *kb.Material, r *kb.Relation) {
	needed := []string{r.By.Property, r.Of}
	if r.Ray != "" {
		// else nobody knows how far a ray that was read is from the one that is meant
		needed = append(needed, vocab.Birefringence)
	}
	for _, name := range needed {
		if m.Ranges[name] == nil {
			t.out.Errorf(diag.MissingKey, r.Span, "the sheet of %q gives no range of %s, which its relation needs",
				m.ID, name)
			return
		}
	}
	for i, property := range needed[:2] {
		flat := m.Ranges[property]
		low, high, _ := spanOf(property, t.vocab)
		for _, p := range r.Through {
			says := fmt.Sprintf("the point [%g, %g] lies outside", p[0], p[1])
			switch {
			case p[i] < low || p[i] > high:
				t.out.Errorf(diag.OutOfSpan, r.Span, "%s what tests can find of %s, %g to %g", says, property, low,
					high)
			case p[i] < flat.Low || p[i] > flat.High:
				d := t.out.Errorf(diag.BadNumber, r.Span, "%s the range of %s, %g to %g", says, property, flat.Low,
					flat.High)
				d.Detail = "No stone of this kind lies there by the sheet's own range."
				d.Related = []diag.Related{{Span: flat.Span, Says: "the range"}}
			}
		}
	}
}

// noCircle sees that no property goes by what goes by it: what two readings say together would count twice.
func (t *tree) noCircle(m *kb.Material, r *kb.Relation) {
	way := []string{r.Of}
	for at := r; at != nil; at = m.Relations[at.By.Property] {
		if way = append(way, at.By.Property); at.By.Property == r.Of {
			if slices.Min(way) != r.Of {
				return // it is told of the first by name
			}
			t.out.Errorf(diag.NotAllowed, r.Span, "the relations of %q go round: %s", m.ID, strings.Join(way, " by ")).
				Detail = "What two readings say together would count twice. Keep one of them."
			return
		}
		if len(way) > len(m.Relations)+1 {
			return // it leads into a circle, which is told there
		}
	}
}
