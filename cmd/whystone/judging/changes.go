package judging

import (
	"whystone/cmd/whystone/terminal"
	"whystone/engine/diff"
	"whystone/kb"
)

// Changes says which sheets of a ruleset changed, and where they stand.
func Changes(rs *kb.Ruleset, list []diff.Sheet) []string {
	var out []string
	for _, c := range list {
		says := c.What + " " + c.ID + " " + c.How
		if r := rs.Rule(c.ID); c.What == "rule" && r != nil && terminal.Replacing(r) != "" {
			says += ", " + terminal.Replacing(r)
		}
		if c.How != "removed" && !c.At.IsZero() {
			says += " (" + c.At.String() + ")"
		}
		out = append(out, says)
	}
	return out
}
