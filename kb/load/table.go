package load

import (
	"slices"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/load/table"
	"whystone/kb/syntax"
)

// buildTables resolves the columns of all tables, and puts together the conditions of the rules that their rows are.
func buildTables(rs *kb.Ruleset, sheets, rules []*sheet) {
	built := map[*tableSheet]*kb.Table{}
	for _, s := range sheets {
		t := &kb.Table{ID: s.id, Says: s.text(s.Node, "says"), Source: s.text(s.Node, "source"),
			Note: s.text(s.Node, "note"), Was: s.texts(s.Node, "was"), File: s.text(s.Node, "rows_from"),
			Place: s.place}
		t.Accepts = s.acceptances(rs.Policy.Zone)
		t.Columns = english.Each(s.table.columns, func(n *syntax.Node) kb.Column { return columnOf(s, n, rs.Scope) })
		s.table.tellStrange(t.Columns)
		rs.Tables = append(rs.Tables, t)
		built[s.table] = t
	}
	for _, s := range rules {
		if s.row == nil {
			continue
		}
		// else its table was replaced unsoundly, which was told
		if s.row.builds = built[s.row.table]; s.row.builds != nil {
			s.conditionOfRow(rs.Scope)
		}
	}
}

// tellStrange reports the keys of rows that are not known. A column's misspelt name makes one of its right name, in
// every row; it was told with the column.
func (t *tableSheet) tellStrange(columns []kb.Column) {
	rows := syntax.Node{Kind: syntax.Map}
	for _, e := range t.strange {
		misspelt := slices.ContainsFunc(columns, func(c kb.Column) bool {
			return c.Symbol == nil && diag.Nearest(e.Key.Text, []string{c.Span.Text()}) != ""
		})
		if !misspelt {
			rows.Entries = append(rows.Entries, e)
		}
	}
	rows.Keys(t.out, t.rowKeys()...)
}

// columnOf finds what a column's name stands for. An unknown one is reported.
func columnOf(s *sheet, n *syntax.Node, scope *condition.Scope) kb.Column {
	symbol := scope.Symbol(n.Text)
	if d := scope.Definition(n.Text); symbol == nil && d != nil && len(d.Params) == 0 {
		symbol = &condition.Symbol{Name: d.Name, Kind: d.Kind, Words: d.Words, Slot: -1}
	}
	if symbol == nil {
		d := s.errorf(diag.UnknownName, n, "nothing is called %q", n.Text)
		d.Lacks = n.Text
		d.Nearest = diag.Nearest(n.Text, scope.Names())
		d.Detail = "A column is an observable, a fact, a definition that takes nothing, a property of the stone such " +
			"as stone.wet, claim or stake."
	}
	return kb.Column{Symbol: symbol, Span: n.Span}
}

// conditionOfRow gives the rule of a row its condition.
func (s *sheet) conditionOfRow(scope *condition.Scope) {
	good := true
	var cells []table.Cell
	for i, column := range s.row.builds.Columns {
		if column.Symbol == nil {
			good = false
			continue
		}
		cell, ok := table.ReadCell(column.Symbol, s.row.cells[i], s.out)
		good = good && ok
		s.row.texts = append(s.row.texts, cell)
		if ok && !cell.Any() {
			cells = append(cells, cell)
		}
	}
	rule := *s.Node
	rule.Entries = append([]syntax.Entry{}, s.Entries...)
	switch {
	case !good: // what is wrong in the other cells is told all the same
		for _, c := range cells {
			n := table.Condition(s.Span, c)
			condition.Compile(n.Text, locate(n), scope, s.out)
		}
		rule.Entries = append(rule.Entries, table.Entry("if", syntax.Unread(s.Span)))
	case len(cells) > 0:
		rule.Entries = append(rule.Entries, table.Entry("if", table.Condition(s.Span, cells...)))
	}
	s.Node = &rule
}

// finishRow adds a row to its table, once its rule is built.
func (s *sheet) finishRow(r *kb.Rule, scope *condition.Scope) {
	t := s.row.builds
	row := &kb.TableRow{Name: s.row.name, Rule: r}
	var none diag.List // the rule's condition, which is made of the same, was compiled already
	for i, text := range s.row.texts {
		n := s.row.cells[i]
		cell := kb.Cell{Text: table.Written(n), Span: s.Span}
		if !n.IsNull() {
			cell.Span = n.Span
		}
		if r.If != nil && !text.Any() {
			n := table.Condition(cell.Span, text)
			cell.If = condition.Compile(n.Text, locate(n), scope, &none)
		}
		row.Cells = append(row.Cells, cell)
	}
	r.Table, r.Row = t, s.row.name
	t.Rows = append(t.Rows, row)
}
