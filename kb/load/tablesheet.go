package load

import (
	"slices"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/load/table"
	"whystone/kb/syntax"
)

// Limits of a rule table.
const (
	MaxTableRows    = 2000
	MaxTableColumns = 32
)

// tableDefaults are the keys of a table that stand for those that a row leaves out.
var tableDefaults = []string{"says", "unless", "family", "backed_by", "source", "status", "since", "until", "author",
	"reviewed_by", "tags"}

var tableKeys = append([]string{"table", "columns", "rows", "rows_from", "was", "accepts", "replaces", "because",
	"note"}, tableDefaults...)

// tableSheet is a rule table as read, before anything is known of the readings that its columns name.
type tableSheet struct {
	*sheet
	columns []*syntax.Node // texts, without repeats
	rows    []*sheet       // of the rules that the rows are, in the order in which they are written
	unread  bool           // the rows can't be read, which was told
	strange []syntax.Entry // of rows: those whose keys are neither a column nor known, each key once
}

// rowSheet is what a rule's sheet keeps of the row that it was.
type rowSheet struct {
	table *tableSheet
	name  string
	cells []*syntax.Node // by column; nil for any

	builds *kb.Table
	texts  []table.Cell // by column
}

// readTable reads a table's columns, and its rows as sheets of rules.
func (st *stacked) readTable(layer string, t *tableSheet, out *diag.List) {
	n := t.Node
	t.Keys(out, tableKeys...)
	t.needText(n, "says")
	ok := t.readColumns()
	rows, from := n.Get("rows"), n.Get("rows_from")
	switch {
	case !rows.IsNull() && !from.IsNull():
		t.errorf(diag.GivenTwice, from, "the rows stand in the table or in a file, not both")
		st.claimFile(layer, from)
	case !from.IsNull():
		if text := st.claimFile(layer, from); text != nil && ok {
			rows, whole := table.Rows(text.Source, t.names(), out)
			t.unread = !whole
			t.readRows(rows, from)
		}
	case rows.IsNull():
		t.errorf(diag.MissingKey, n, "the table %q has no \"rows\"",
			t.id).Detail = "Write them under rows, or name a CSV file under rows_from."
	default:
		if items, isList := rows.List(out); isList && ok {
			t.readRows(items, rows)
		}
	}
}

// reservedColumns are the keys of a row that are no column.
func reservedColumns() []string { return append([]string{"row"}, ruleKeys...) }

func (t *tableSheet) readColumns() bool {
	n := t.Get("columns")
	if !t.has(t.Node, "columns", "the table %q names no \"columns\"", t.id) {
		return false
	}
	items, ok := n.List(t.out)
	if !ok {
		return false
	}
	if len(items) == 0 || len(items) > MaxTableColumns {
		t.errorf(diag.TooLong, n, "a table has from 1 to %d columns, and this one %d", MaxTableColumns, len(items))
		return false
	}
	for _, it := range items {
		name, isText := it.Str(t.out)
		first := slices.IndexFunc(t.columns, func(c *syntax.Node) bool { return c.Text == name })
		switch {
		case !isText:
			ok = false
		case first >= 0:
			t.errorf(diag.GivenTwice, it, "the column %q is there twice", name).
				Related = []diag.Related{{Span: t.columns[first].Span, Says: "here first"}}
			ok = false
		case slices.Contains(reservedColumns(), name):
			t.errorf(diag.NotAllowed, it, "%q is a key of every row and can't be a column", name).
				Detail = "Columns are what a condition asks for; what follows stands in the rows beside them."
			ok = false
		default:
			t.columns = append(t.columns, it)
		}
	}
	return ok
}

// readRows reads rows into sheets of rules. whole is where all of them stand.
func (t *tableSheet) readRows(rows []*syntax.Node, whole *syntax.Node) {
	switch {
	case len(rows) > MaxTableRows:
		t.errorf(diag.TooLong, rows[MaxTableRows], "a table has at most %d rows", MaxTableRows)
		return
	case len(rows) == 0 && !t.unread:
		t.errorf(diag.MissingKey, whole, "the table %q has no rows", t.id)
	}
	names := map[string]*syntax.Node{}
	for _, n := range rows {
		if row := t.readRow(n, names); row != nil {
			t.rows = append(t.rows, row)
		}
	}
}

func (t *tableSheet) names() []string { return english.Each(t.columns, textOf) }

func textOf(n *syntax.Node) string { return n.Text }

// rowKeys are all keys that a row may have.
func (t *tableSheet) rowKeys() []string {
	return slices.DeleteFunc(slices.Concat([]string{"row"}, t.names(), ruleKeys),
		func(k string) bool { return k == "rule" || k == "if" })
}

// readRow reads one row. Its condition comes later, when it is known what the columns are.
func (t *tableSheet) readRow(n *syntax.Node, names map[string]*syntax.Node) *sheet {
	entries, ok := n.Map(t.out)
	if !ok {
		return nil
	}
	s := &sheet{Node: n, layer: t.layer, out: t.out}
	id := n.Get("row")
	if !s.has(n, "row", "this row has no name: write \"row\" first") {
		return nil
	}
	name, ok := id.Str(t.out)
	if !ok {
		return nil
	}
	if !idShape.MatchString(name) {
		s.errorf(diag.BadID, id, "%q is no name of a row: lower-case letters, digits and single hyphens", name)
		return nil
	}
	if first := names[name]; first != nil {
		s.errorf(diag.DuplicateID, id, "the table %q has two rows %q", t.id, name).
			Related = []diag.Related{{Span: first.Span, Says: "here first"}}
		return nil
	}
	names[name] = id
	s.id = t.id + "-" + name
	s.row = &rowSheet{table: t, name: name, cells: make([]*syntax.Node, len(t.columns))}
	rule := &syntax.Node{Kind: syntax.Map, Span: n.Span, Entries: []syntax.Entry{
		table.Entry("rule", syntax.Pieced(syntax.Double, id.Span, syntax.Piece{Text: s.id, Span: id.Span}))}}
	for _, e := range entries {
		key := e.Key.Text
		column := slices.IndexFunc(t.columns, func(c *syntax.Node) bool { return c.Text == key })
		switch {
		case key == "row" || e.Value.IsNull():
		case column >= 0:
			s.row.cells[column] = e.Value
		case key == "if" || key == "rule":
			s.errorf(diag.NotAllowed, e.Key,
				"a row has no %q: its id comes of its name, and its condition of its cells", key).
				Detail = "What the columns can't say is a rule of its own, under rules."
		case slices.Contains(ruleKeys, key):
			rule.Entries = append(rule.Entries, e)
		}
	}
	known := append(t.rowKeys(), "if", "rule")
	for _, e := range entries {
		told := func(o syntax.Entry) bool { return o.Key.Text == e.Key.Text }
		if !slices.Contains(known, e.Key.Text) && !slices.ContainsFunc(t.strange, told) {
			t.strange = append(t.strange, e)
		}
	}
	for _, key := range tableDefaults {
		if v := t.Get(key); !v.IsNull() && rule.Get(key) == nil {
			rule.Entries = append(rule.Entries, table.Entry(key, v))
		}
	}
	s.Node = rule
	s.place = kb.Place{Layer: t.layer, Span: id.Span, Replaces: s.text(rule, "replaces"),
		Because: s.text(rule, "because")}
	return s
}
