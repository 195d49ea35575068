package judging

import (
	"whystone/cmd/whystone/terminal"
	"whystone/engine/diff"
	"whystone/kb"
	"whystone/kb/english"
)

// Changes says which sheets of a ruleset changed, and where they stand.
func Changes(rs *kb.Ruleset, list []diff.Sheet) []string {
	return english.Each(list, func(c diff.Sheet) string {
		says := c.What + " " + c.ID + " " + c.How
		if r := rs.Rule(c.ID); c.What == "rule" && r != nil && terminal.Replacing(r) != "" {
			says += ", " + terminal.Replacing(r)
		}
		if c.How != "removed" && !c.At.IsZero() {
			says += " (" + c.At.String() + ")"
		}
		return says
	})
}

// mostChanges is how many changes are told one by one at a glance.
const mostChanges = 12

// Foremost is Changes where somebody only looks up: the first of them, and how many more there are of each kind.
func Foremost(rs *kb.Ruleset, list []diff.Sheet) []string {
	if len(list) <= mostChanges+1 {
		return Changes(rs, list)
	}
	kinds, by := english.Grouped(list[mostChanges:], func(c diff.Sheet) [2]string { return [2]string{c.What, c.How} })
	more := english.Each(kinds, func(kind [2]string) string {
		return english.Count(len(by[kind]), kind[0], plural(kind[0])) + " " + kind[1]
	})
	return append(Changes(rs, list[:mostChanges]), "and beside these "+english.List(more, "and"))
}

func plural(what string) string {
	if what == "policy" {
		return what
	}
	return what + "s"
}
