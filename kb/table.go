package kb

import (
	"whystone/kb/condition"
	"whystone/kb/diag"
)

// Table is a rule table: rules of one shape, written as rows. Each row is a rule like any other, found among
// Ruleset.Rules by the id table-row; the table is what remembers that they stand together.
type Table struct {
	ID, Says, Source, Note string
	Was                    []string
	Columns                []Column
	// in the order in which they are written, without those that a layer replaced or retired
	Rows []*TableRow
	// the CSV file that the rows come from, as rows_from names it; "" when they stand in the table
	File    string
	Accepts []Acceptance
	Place   Place
}

// Column is what one column of a table asks for.
type Column struct {
	*condition.Symbol
	Span diag.Span // of its name in the table
}

// TableRow is a row of a table, and the rule that it is.
type TableRow struct {
	Name  string
	Rule  *Rule
	Cells []Cell // by column
}

// Cell is what a row says of a column.
type Cell struct {
	Text string               // as written, the items of a list separated by "; "; "any" too where it is left out
	Span diag.Span            // of the row where it is left out
	If   *condition.Condition // nil: any
}
