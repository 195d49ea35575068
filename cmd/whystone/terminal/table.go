package terminal

import (
	"slices"
	"strings"

	"whystone/kb"
	"whystone/kb/english"
)

// RuleTable writes a rule table: its rows with their cells as written, what follows from each, and where each stands.
func (p *Printer) RuleTable(rs *kb.Ruleset, t *kb.Table) {
	p.Columns(Accent, t.ID, "table of "+english.Count(len(t.Rows), "row", "rows"))
	p.Text(Bold, 2, t.Says)
	shared := sharedBy(t.Rows)
	for _, s := range shared {
		p.fieldIf(s.label, s.text)
	}
	p.fieldIf("Source", t.Source)
	p.fieldIf("Note", t.Note)
	p.fieldIf("Formerly", strings.Join(t.Was, ", "))
	p.fieldIf("Rows from", t.File)
	p.fieldIf("Stands in", place(t.Place))
	if len(t.Rows) == 0 {
		p.Field("Rows", Plain, "none is left: layers replaced or retired them")
		return
	}
	p.Blank()
	rows := english.Each(t.Rows, func(r *kb.TableRow) tableRow { return rowIn(rs, t, r, shared) })
	if widths := columnWidths(p.width, t, rows); widths != nil {
		p.grid(widths, t, rows)
		return
	}
	p.blocks(t, rows)
}

// tableRow is a row as it is written down.
type tableRow struct {
	name, place string
	cells       []string
	follows     []string
}

func rowIn(rs *kb.Ruleset, t *kb.Table, r *kb.TableRow, shared []effect) tableRow {
	out := tableRow{name: r.Name, place: r.Rule.Place.Span.String()}
	if i := strings.LastIndex(out.place, ":"); i >= 0 {
		out.place = out.place[:i] // the line is enough
	}
	out.cells = english.Each(r.Cells, func(c kb.Cell) string { return c.Text })
	if r.Rule.Says != t.Says {
		out.follows = append(out.follows, r.Rule.Says)
	}
	out.follows = append(out.follows, english.Each(effects(rs, r.Rule),
		func(e effect) string { return e.label + ": " + e.inTable })...)
	out.follows = append(out.follows, english.Only(about(r.Rule), func(e effect) (string, bool) {
		return e.label + ": " + e.text, e.text != "" && !slices.Contains(shared, e)
	})...)
	return out
}

// about is what else a row's rule says, which a table mostly says for all its rows.
func about(r *kb.Rule) []effect {
	unless, status := "", ""
	if r.Unless != nil {
		unless = strings.TrimSpace(r.Unless.Text)
	}
	if r.Status != kb.Active {
		status = string(r.Status)
	}
	return []effect{{label: "Unless", text: unless}, {label: "Status", text: status}, {label: "Family", text: r.Family},
		{label: "Backed by", text: r.BackedBy},
		{label: "In force", text: inForce(r)}, {label: "Author", text: r.Author},
		{label: "Reviewed", text: r.ReviewedBy}, {label: "Tags", text: strings.Join(r.Tags, ", ")}}
}

// sharedBy is what all rows say alike.
func sharedBy(rows []*kb.TableRow) []effect {
	var out []effect
	if len(rows) == 0 {
		return nil
	}
	for i, e := range about(rows[0].Rule) {
		if e.text != "" && !slices.ContainsFunc(rows, func(r *kb.TableRow) bool { return about(r.Rule)[i] != e }) {
			out = append(out, e)
		}
	}
	return out
}

// tables lists the tables with what they say and their rows.
func (p *Printer) tables(rs *kb.Ruleset) {
	if len(rs.Tables) == 0 {
		return
	}
	p.section("Tables")
	for _, t := range rs.Tables {
		p.line(run{Bold, t.ID}, run{Dim, "  (" + english.Count(len(t.Rows), "row", "rows") + ")"})
		p.Text(Plain, 4, t.Says)
		if names := english.Each(t.Rows, func(r *kb.TableRow) string { return r.Name }); len(names) > 0 {
			p.Text(Dim, 4, "Rows: "+strings.Join(names, ", "))
		}
	}
}

// tableOf says which row of which table a rule is, or nothing.
func tableOf(r *kb.Rule) string {
	t := r.Table
	if t == nil {
		return ""
	}
	return "row " + r.Row + " of the table " + t.ID
}
