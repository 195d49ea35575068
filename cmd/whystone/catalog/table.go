package catalog

import (
	"whystone/kb"
	"whystone/kb/english"
)

// RuleOrTable is one thing that the word "rule" looks up: a rule, or a rule table. The other one is nil.
type RuleOrTable struct {
	Rule  *kb.Rule
	Table *kb.Table
}

// RulesAndTables are all rules, and then all tables.
func RulesAndTables(rs *kb.Ruleset) []RuleOrTable {
	rules := english.Each(rs.Rules, func(r *kb.Rule) RuleOrTable { return RuleOrTable{Rule: r} })
	return append(rules, english.Each(rs.Tables, func(t *kb.Table) RuleOrTable { return RuleOrTable{Table: t} })...)
}

// ID is the id of what it is, and Says its words.
func (x RuleOrTable) ID() (id, says string) {
	if x.Table != nil {
		return x.Table.ID, x.Table.Says
	}
	return x.Rule.ID, x.Rule.Says
}

// FindRuleOrTable finds a rule or a table by its id or a former one.
func FindRuleOrTable(rs *kb.Ruleset, name string) (RuleOrTable, error) {
	every := RulesAndTables(rs)
	i, err := find(rs, rule, name, english.Each(every, func(x RuleOrTable) named {
		if x.Table != nil {
			return named{x.Table.ID, x.Table.Was}
		}
		return named{x.Rule.ID, x.Rule.Was}
	}))
	if err != nil {
		return RuleOrTable{}, err
	}
	return every[i], nil
}

// Of is the rule or the table as data.
func (x RuleOrTable) Of(rs *kb.Ruleset) any {
	if x.Table != nil {
		return OfTable(rs, x.Table)
	}
	return OfRule(rs, x.Rule)
}

// Table is a rule table.
type Table struct {
	Format  int      `json:"format"`
	Table   string   `json:"table"` // its id
	Says    string   `json:"says"`
	Source  string   `json:"source"`
	Note    string   `json:"note,omitempty"`
	Was     []string `json:"was,omitempty"`
	Columns []Column `json:"columns"`
	Rows    []Row    `json:"rows"`
	Place
}

// Column is what a column asks for.
type Column struct {
	Name string `json:"name"`
	Kind string `json:"kind"`
}

// Row is a row: its cells, column by column, and the rule that it is.
type Row struct {
	Row   string `json:"row"`
	Cells []Cell `json:"cells"`
	Rule  Rule   `json:"rule"`
}

// Cell is what a row says of a column.
type Cell struct {
	Says string `json:"says"`
	If   string `json:"if"` // as a condition; empty: any
}

// OfTable is a table as it is written.
func OfTable(rs *kb.Ruleset, t *kb.Table) Table {
	out := Table{Format: Format, Table: t.ID, Says: t.Says, Source: t.Source, Note: t.Note, Was: t.Was,
		Place: placed(t.Place)}
	out.Columns = list(english.Each(t.Columns, func(c kb.Column) Column { return Column{c.Name, c.Kind.String()} }))
	out.Rows = list(english.Each(t.Rows, func(r *kb.TableRow) Row {
		cells := english.Each(r.Cells, func(c kb.Cell) Cell { return Cell{c.Text, textOf(c.If)} })
		return Row{r.Name, list(cells), OfRule(rs, r.Rule)}
	}))
	return out
}
