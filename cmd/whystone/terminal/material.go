package terminal

import (
	"cmp"
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
	p.fieldIf("Stands in", p.place(m.Place))
	p.ranges(m)
	p.relations(m)
	p.frequencies("Outcomes of tests", m, m.Choices)
	p.frequencies("Features, when looked for", m, m.Features)
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
	var names []string
	for _, i := range m.Leaves {
		names = append(names, rs.Leaves[i].Name)
	}
	if !m.Nameable {
		says = "filing " + says
	}
	return says + some(names, 8)
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
	var out []string
	for _, o := range m.Others {
		out = append(out, string(o.Origin)+", without a sheet of their own; at the counter: "+o.Counter)
	}
	return out
}

// place says where a sheet stands, and what it stands in for.
func (p *Printer) place(o kb.Place) string { return placeAs(o, "in place of") }

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

// entry writes a name and what is said of it, with the source and the place below.
func (p *Printer) entry(name string, texts []string, source string) {
	head := "  " + pad(name, nameColumn-2)
	for _, t := range texts {
		p.hang(Plain, head, strings.Repeat(" ", nameColumn), t)
		head = strings.Repeat(" ", nameColumn)
	}
	if source != "" {
		p.Text(Dim, 4, source)
	}
}

func (p *Printer) ranges(m *kb.Material) {
	if len(m.Ranges) == 0 {
		return
	}
	p.Blank()
	p.Text(Bold, 0, "Properties")
	for _, name := range sorted(m.Ranges) {
		r := m.Ranges[name]
		says := rangeText(r)
		if r.Typical != nil {
			says += ", most of them " + span(r.Typical[0], r.Typical[1])
		}
		if r.Tolerance > 0 {
			says += ", tolerance " + number(r.Tolerance)
		}
		if r.Derived != "" {
			says += " (" + r.Derived + ")"
		}
		p.entry(phrase.InWords(name), []string{says}, from(m, r.SaidBy)+r.Source+"; "+lineOf(r.Span))
	}
}

func (p *Printer) relations(m *kb.Material) {
	if len(m.Relations) == 0 {
		return
	}
	p.Blank()
	p.Text(Bold, 0, "What goes with what")
	for _, of := range sorted(m.Relations) {
		r := m.Relations[of]
		p.entry(phrase.InWords(of), relationText(r), from(m, r.SaidBy)+r.Source+"; "+lineOf(r.Span))
	}
}

// relationText writes a relation, a line for each point: "3.58 where RI is 1.714".
func relationText(r *kb.Relation) []string {
	by := phrase.InWords(r.By.Name)
	switch r.Ray {
	case kb.LowRay, kb.HighRay:
		by += " (" + string(r.Ray) + " ray)"
	}
	var out []string
	for _, point := range r.Through {
		out = append(out, number(point[1])+" where "+by+" is "+number(point[0]))
	}
	return append(out, "and no further from the line between them than "+number(r.Within))
}

// rangeText writes a range as its sheet does; a computed one to four figures.
func rangeText(r *kb.Range) string {
	if r.Derived == "" {
		return span(r.Low, r.High)
	}
	return span(figures(r.Low, 4), figures(r.High, 4))
}

func span(low, high float64) string {
	if low == high {
		return number(low)
	}
	return number(low) + " to " + number(high)
}

// from says which group a line is inherited from.
func from(m, owner *kb.Material) string {
	if owner == nil || owner == m {
		return ""
	}
	return "from " + owner.ID + ": "
}

func (p *Printer) frequencies(head string, m *kb.Material, all map[string]*kb.Frequencies) {
	if len(all) == 0 {
		return
	}
	p.Blank()
	p.Text(Bold, 0, head)
	for _, name := range sorted(all) {
		f := all[name]
		p.entry(phrase.InWords(name), []string{frequencyText(f)}, from(m, f.SaidBy)+f.Source+"; "+lineOf(f.Span))
	}
}

// frequencyText lists outcomes by how often they are seen: "usually stays dark; rarely stays light".
func frequencyText(f *kb.Frequencies) string {
	var parts []string
	for _, x := range kb.ByFrequency(f.Words) {
		parts = append(parts, string(x.Word)+" "+strings.Join(x.Outcomes, ", "))
	}
	for _, feature := range sorted(f.Strengths) {
		for _, x := range kb.ByFrequency(f.Strengths[feature]) {
			parts = append(parts, feature+" "+string(x.Word)+" "+strings.Join(x.Outcomes, ", "))
		}
	}
	return strings.Join(parts, "; ")
}

func sorted[V any](m map[string]V) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}
