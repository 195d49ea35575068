package main

import (
	"github.com/spf13/cobra"

	"whystone/cmd/whystone/sheet"
	"whystone/cmd/whystone/tell"
	"whystone/kb"
)

func (a *app) rule() *cobra.Command {
	return lookup[*kb.Rule]{
		use:   "rule [ID]",
		short: "Look up a rule",
		long: `Rule shows a rule: its condition, what follows from it, its source and examples,
and where it stands; without an ID, all rules.`,
		example: `  whystone rule doubled-edges-two-rays`,
		list:    (*tell.Printer).Rules,
		show:    (*tell.Printer).Rule,
		all:     func(rs *kb.Ruleset) []*kb.Rule { return rs.Rules },
		find:    sheet.FindRule,
		object:  func(rs *kb.Ruleset, r *kb.Rule) any { return sheet.OfRule(rs, r) },
		id:      func(r *kb.Rule) (string, string) { return r.ID, r.Says },
	}.command(a)
}
