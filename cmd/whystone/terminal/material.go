package terminal

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/vocab"
)

// Materials writes the tree of materials, each with its id.
func (p *Printer) Materials(rs *kb.Ruleset) {
	var lines []pair
	for _, m := range rs.Nodes {
		if m.Parent == nil {
			lines = materialLines(lines, m, 0)
		}
	}
	p.list(lines)
}

func materialLines(lines []pair, m *kb.Material, depth int) []pair {
	style := Plain
	if m.Group {
		style = Bold
	}
	lines = append(lines, pair{style, strings.Repeat("  ", depth) + m.Name, m.ID})
	kids := slices.Clone(m.Kids)
	slices.SortStableFunc(kids, func(a, b *kb.Material) int { return cmp.Compare(a.Name, b.Name) })
	for _, k := range kids {
		lines = materialLines(lines, k, depth+1)
	}
	return lines
}

// Material writes the sheet of a material or group, with what it has from the groups above it.
func (p *Printer) Material(rs *kb.Ruleset, m *kb.Material) {
	p.Columns(Accent, m.Name, m.ID)
	p.Field(map[bool]string{true: "Kind", false: "Origin"}[m.Group], Plain, kindOf(rs, m))
	if path := m.Path(); len(path) > 1 {
		p.Field("Path", Plain, strings.Join(path, " > "))
	}
	p.fieldIf("Also", strings.Join(m.Also, "; "))
	p.fieldIf("Formerly", strings.Join(m.Was, ", "))
	p.fieldIf("Formula", m.Formula)
	if m.Nameable {
		p.Field("In verdicts", Plain, inVerdicts(rs, m)...)
	}
	p.fieldIf("At counter", m.Counter)
	p.fieldIf("Growth", growth(m))
	p.Field("Others", Plain, others(m)...)
	p.Field("Treatments", Plain, m.Treatments...)
	p.Field("Harmed by", Plain, m.HarmedBy...)
	p.fieldIf("Note", m.Note)
	p.fieldIf("Stands in", place(m.Place))
	part(p, "Properties", m, m.Ranges, rangeSaid)
	part(p, "What goes with what", m, m.Relations, relationSaid)
	part(p, "Outcomes of tests", m, m.Choices, frequenciesSaid)
	part(p, "Features, when looked for", m, m.Features, frequenciesSaid)
}

func (p *Printer) fieldIf(label, text string) {
	if text != "" {
		p.Field(label, Plain, text)
	}
}

func kindOf(rs *kb.Ruleset, m *kb.Material) string {
	if !m.Group {
		return string(m.Origin)
	}
	says := "group of " + english.Count(len(m.Leaves), "material", "materials") + ": "
	if !m.Nameable {
		says = "filing " + says
	}
	return says + phrase.Some(leafNames(rs, m.Leaves), 8)
}

// inVerdicts are the names that a verdict uses.
func inVerdicts(rs *kb.Ruleset, m *kb.Material) []string {
	if m.ByColour == nil {
		return []string{m.Says()}
	}
	var out []string
	for _, n := range m.ByColour {
		if n.Colours == 0 {
			return append(out, n.Says+", otherwise")
		}
		out = append(out, n.Says+", where the colour is "+
			strings.Join(rs.Vocabulary.Observable(vocab.Colour).Of(n.Colours), " or "))
	}
	return append(out, m.Name+", otherwise")
}

// growth says what is known of laboratory growth, and of which species that is said.
func growth(m *kb.Material) string {
	if m.Grown == "" {
		return ""
	}
	says := map[kb.Growth]string{"none known": "no laboratory-grown %s is known",
		"listed":     "laboratory-grown %s is listed",
		"not listed": "there is laboratory-grown %s, and it is not listed"}[m.Grown]
	return strings.Replace(says, "%s", m.Species.Name, 1)
}

// others are the members of a group that no sheet is of.
func others(m *kb.Material) []string {
	return english.Each(m.Others, func(o *kb.Material) string {
		return string(o.Origin) + ", without a sheet of their own; at the counter: " + o.Counter
	})
}

// place says where a sheet stands, and what it stands in for.
func place(o kb.Place) string { return placeAs(o, "in place of") }

func placeAs(o kb.Place, stands string) string {
	says := lineOf(o.Span)
	if o.Replaces != "" {
		says += ", " + stands + " " + o.Replaces
		if o.Because != "" {
			says += ", because: " + o.Because
		}
	}
	return says
}

func lineOf(sp diag.Span) string {
	if sp.IsZero() {
		return ""
	}
	return sp.Source.Name + ":" + number(float64(sp.Position().Line))
}

// nameColumn is the width of the names beside figures and outcomes.
const nameColumn = 24

// said is what a sheet says under a name, and where it says so.
type said struct {
	texts  []string
	by     *kb.Material
	source string
	at     diag.Span
}

// part writes a part of a sheet: each name and what is said of it, with the source and the place below.
func part[T any](p *Printer, head string, m *kb.Material, all map[string]T, say func(T) said) {
	if len(all) > 0 {
		p.section(head)
	}
	for _, name := range slices.Sorted(maps.Keys(all)) {
		x, first := say(all[name]), "  "+pad(phrase.InWords(name), nameColumn-2)
		for _, t := range x.texts {
			p.hang(Plain, first, strings.Repeat(" ", nameColumn), t)
			first = strings.Repeat(" ", nameColumn)
		}
		p.Text(Dim, 4, from(m, x.by)+x.source+"; "+lineOf(x.at))
	}
}

// rangeSaid is a range with what else is said of it.
func rangeSaid(r *kb.Range) said {
	says := phrase.RangeText(r)
	if r.Typical != nil {
		says += ", most of them " + span(r.Typical[0], r.Typical[1])
	}
	if r.Tolerance > 0 {
		says += ", tolerance " + number(r.Tolerance)
	}
	if r.Derived != "" {
		says += " (" + r.Derived + ")"
	}
	return said{[]string{says}, r.SaidBy, r.Source, r.Span}
}

// relationSaid is a relation, a line for each point: "3.58 where RI is 1.714".
func relationSaid(r *kb.Relation) said {
	by := phrase.InWords(r.By.Name)
	switch r.Ray {
	case kb.LowRay, kb.HighRay:
		by += " (" + string(r.Ray) + " ray)"
	}
	texts := english.Each(r.Through, func(point [2]float64) string {
		return number(point[1]) + " where " + by + " is " + number(point[0])
	})
	texts = append(texts, "and no further from the line between them than "+number(r.Within))
	return said{texts, r.SaidBy, r.Source, r.Span}
}

func frequenciesSaid(f *kb.Frequencies) said {
	return said{[]string{frequencyText(f)}, f.SaidBy, f.Source, f.Span}
}

func span(low, high float64) string { return phrase.FromTo(number(low), number(high)) }

// from says which group a line is inherited from.
func from(m, owner *kb.Material) string {
	if owner == nil || owner == m {
		return ""
	}
	return "from " + owner.ID + ": "
}

// frequencyText lists outcomes by how often they are seen: "usually stays dark; rarely stays light".
func frequencyText(f *kb.Frequencies) string {
	parts := english.Each(kb.ByFrequency(f.Words), func(x kb.Seen) string {
		return string(x.Word) + " " + strings.Join(x.Outcomes, ", ")
	})
	for _, feature := range slices.Sorted(maps.Keys(f.Strengths)) {
		for _, x := range kb.ByFrequency(f.Strengths[feature]) {
			parts = append(parts, feature+" "+string(x.Word)+" "+strings.Join(x.Outcomes, ", "))
		}
	}
	return strings.Join(parts, "; ")
}
