package kb

import (
	"whystone/kb/casefile"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/logic"
)

// Definition is an expression that a house gave a name, with what it says of it. Conditions that use the name hold the
// expression in its place.
type Definition struct {
	*condition.Definition
	Says, Source, Note string
	Examples           []DefinitionExample
	Place              Place
}

// DefinitionExample is a case in small, and what a use of the definition comes to on it. That is asked as a condition:
// of a truth the use itself, of a word whether it is that word, of a quantity whether it is as near as the example
// says.
type DefinitionExample struct {
	Case *casefile.Case
	Asks *condition.Condition
	Is   logic.Value // that the condition comes to
	Span diag.Span
}

// Definition finds a definition by name, or nil.
func (rs *Ruleset) Definition(name string) *Definition {
	return find(rs.Definitions, name, func(d *Definition) string { return d.Name })
}
