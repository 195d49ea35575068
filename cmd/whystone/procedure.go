package main

import (
	"github.com/spf13/cobra"

	"whystone/cmd/whystone/sheet"
	"whystone/cmd/whystone/tell"
	"whystone/kb"
)

func (a *app) procedure() *cobra.Command {
	return lookup[*kb.Test]{
		use:   "procedure [ID]",
		short: "Look up a test: how it is done, and how it is read",
		long: `Procedure shows a test: how it is done, with what cautions, what it needs and
what its outcomes are worth; without an ID, all tests. Of a test that marks or
destroys a stone it tells only how a result is read. The name of what is read
will do for an ID.`,
		example: `  whystone procedure thermal-probe
  whystone procedure specific_gravity`,
		list:   (*tell.Printer).Procedures,
		show:   (*tell.Printer).Procedure,
		all:    func(rs *kb.Ruleset) []*kb.Test { return rs.Tests },
		find:   sheet.FindTest,
		object: func(_ *kb.Ruleset, t *kb.Test) any { return sheet.OfTest(t) },
		id:     func(t *kb.Test) (string, string) { return t.ID, t.Name },
	}.command(a)
}
