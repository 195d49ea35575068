package picture

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"strings"

	"whystone/engine"
	"whystone/engine/phrase"
)

// Strand is what a family of readings says of a material, as the logarithm to the base 10 of how many times likelier
// they are on it than on any.
type Strand struct {
	Family string
	Weight float64
}

// Case is what speaks for a material and against it.
type Case struct {
	Name     string
	Standing Standing
	By       string // what rules it out
	Strands  []Strand
}

// Evidence is what speaks for and against materials.
type Evidence struct {
	Title string
	Cases []Case
}

// most is how far strands are drawn to either side, in powers of ten.
const most = 5.0

// Draw draws a row for each material: strands for it to the right of the middle, against it to the left, each as long
// as it weighs, and beyond the frame cut off.
func (e *Evidence) Draw() *Picture {
	const row, top, left = 34.0, 10.0, 222.0
	s := &scene{Width: 760, Height: top + row*float64(max(1, len(e.Cases))) + 60, Title: e.Title}
	x := axis{from: -most, to: most, at: left, end: 748}
	bottom := top + row*float64(max(1, len(e.Cases)))
	for p := -4.0; p <= 4; p += 2 {
		s.line("grid", faint, x.of(p), top, x.of(p), bottom)
		s.text("tick", soft, x.of(p), bottom+17, "middle", powerText(p))
	}
	s.text("axis", look{}, x.of(-most/2), bottom+40, "middle", "against: times less likely")
	s.text("axis", look{}, x.of(most/2), bottom+40, "middle", "for: times likelier")
	table := Table{Head: []string{"material", "standing", "family", "times likelier on it than on any"}}
	for i, c := range e.Cases {
		y := top + row*float64(i)
		name := look{}
		if c.Standing == Named {
			name = strong
		}
		s.text("name", name, left-8, y+row/2+5, "end", short(c.Name))
		c.strands(s, x, y+5, y+row-5)
		for k, t := range c.Strands {
			cells := []string{"", "", t.Family, timesText(t.Weight)}
			if k == 0 {
				cells[0], cells[1] = c.Name, c.standing()
			}
			table.Rows = append(table.Rows, cells)
		}
		if len(c.Strands) == 0 {
			table.Rows = append(table.Rows, []string{c.Name, c.standing(), "none", "1"})
		}
	}
	s.line("middle", look{Stroke: "1.4"}, x.of(0), top, x.of(0), bottom)
	s.rect("frame", frame, left, top, x.end, bottom, "")
	return s.picture(table, "Each bar is a family of readings; its length is a power of ten. A broken outline is of a "+
		"material that is ruled out. The figures stand in the table.")
}

func (c Case) standing() string {
	if c.By == "" {
		return standingWords[c.Standing]
	}
	return standingWords[c.Standing] + " by " + c.By
}

// strands draws those of one material, the heaviest next to the middle.
func (c Case) strands(s *scene, x axis, y1, y2 float64) {
	sorted := slices.Clone(c.Strands)
	slices.SortStableFunc(sorted, func(a, b Strand) int {
		return cmp.Or(cmp.Compare(math.Abs(b.Weight), math.Abs(a.Weight)), cmp.Compare(a.Family, b.Family))
	})
	ends := [2]float64{}
	for i, t := range sorted {
		side := 0
		if t.Weight < 0 {
			side = 1
		}
		from := ends[side]
		ends[side] += t.Weight
		a, b := x.of(from), x.of(ends[side])
		style := look{Fill: [...]string{"0.42", "0.28", "0.16", "0.08"}[min(i, 3)], Stroke: "1"}
		if c.Standing == RuledOut {
			style.Dash = "3 2"
		}
		s.rect("strand", style, a, y1, b, y2, t.Family+": "+timesText(t.Weight))
		if widthOf(t.Family, 10)+4 < math.Abs(b-a) {
			s.text("strand", look{Size: "10"}, (a+b)/2, (y1+y2)/2+3.5, "middle", t.Family)
		}
	}
}

func short(name string) string {
	const fits = 28
	if r := []rune(name); len(r) > fits {
		return string(r[:fits-1]) + "…"
	}
	return name
}

func powerText(p float64) string {
	if p == 0 {
		return "alike"
	}
	return figure(math.Pow(10, math.Abs(p))) + "×"
}

// timesText says a weight as a factor of two figures.
func timesText(weight float64) string {
	if weight < 0 {
		return "1/" + figure(round2(math.Pow(10, -weight)))
	}
	return figure(round2(math.Pow(10, weight)))
}

// mostCases is how many materials are drawn.
const mostCases = 14

// OfEvidence is what the chain behind a verdict says of the likeliest materials, and of those whose exclusion
// mattered most.
func OfEvidence(e *engine.Explained) *Evidence {
	weights, total := map[string]map[string]float64{}, map[string]float64{} // by material, then family
	for _, s := range e.Chain {
		if s.Kind != "evidence" {
			continue
		}
		for _, g := range s.Weights {
			if weights[g.Material] == nil {
				weights[g.Material] = map[string]float64{}
			}
			weights[g.Material][s.Family] += g.Counts / math.Ln10
			total[g.Material] += g.Counts
		}
	}
	out := &Evidence{Title: "What speaks for and against each material"}
	add := func(id, name string, standing Standing, by string) {
		c := Case{Name: name, Standing: standing, By: by}
		id = leafOf(id, weights)
		for family, w := range weights[id] {
			if math.Abs(w) >= 0.02 {
				c.Strands = append(c.Strands, Strand{family, w})
			}
		}
		slices.SortFunc(c.Strands, func(a, b Strand) int { return strings.Compare(a.Family, b.Family) })
		out.Cases = append(out.Cases, c)
	}
	for _, m := range e.Candidates[:min(len(e.Candidates), mostCases/2)] {
		standing := Open
		if e.Named != nil && *e.Named == m.Material {
			standing = Named
		}
		add(m.Material, m.Name, standing, "")
	}
	excluded := slices.Clone(e.Excluded)
	slices.SortStableFunc(excluded, func(a, b engine.Excluded) int {
		return cmp.Or(cmp.Compare(total[leafOf(b.Material, weights)], total[leafOf(a.Material, weights)]),
			cmp.Compare(a.Material, b.Material))
	})
	for _, m := range excluded[:min(len(excluded), mostCases-len(out.Cases))] {
		add(m.Material, m.Name, RuledOut, phrase.InWords(m.By))
	}
	return out
}

// leafOf is the id under which the chain weighs a material: a member without a sheet of its own is told by its group.
func leafOf(id string, weights map[string]map[string]float64) string {
	if weights[id] == nil {
		for _, leaf := range slices.Sorted(maps.Keys(weights)) {
			if strings.HasPrefix(leaf, id+":") {
				return leaf
			}
		}
	}
	return id
}
