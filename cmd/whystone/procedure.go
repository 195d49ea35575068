package main

import (
	"github.com/spf13/cobra"

	"whystone/cmd/whystone/catalog"
	"whystone/cmd/whystone/terminal"
	"whystone/kb"
)

func (a *app) procedure() *cobra.Command {
	return a.naming(lookup[*kb.Test]{
		use:   "procedure [ID]",
		short: "Look up a test: how it is done, and how it is read",
		long: `Procedure shows a test: how it is done, with what cautions, what it needs and
what its outcomes are worth; without an ID, all tests. Of a test that marks or
destroys a stone it tells only how a result is read. The name of what is read
will do for an ID.

With --observables it lists what a condition of a rule may name instead: what
can be observed, by family, with its choices or features and the tests that
give it; the properties of the stone, the claim and the stake; and the facts
that rules establish.`,
		example: `  whystone procedure thermal-probe
  whystone procedure specific_gravity
  whystone procedure --observables`,
		list:   (*terminal.Printer).Procedures,
		show:   (*terminal.Printer).Procedure,
		all:    func(rs *kb.Ruleset) []*kb.Test { return rs.Tests },
		find:   catalog.FindTest,
		object: func(_ *kb.Ruleset, t *kb.Test) any { return catalog.OfTest(t) },
		id:     func(t *kb.Test) (string, string) { return t.ID, t.Name },
	}.command(a))
}

// naming gives the command --observables.
func (a *app) naming(cmd *cobra.Command) *cobra.Command {
	var names bool
	look := cmd.RunE
	cmd.RunE = a.does(func(s *session, cmd *cobra.Command, args []string) error {
		switch {
		case !names:
			return look(cmd, args)
		case len(args) > 0:
			return usageError("%s lists what a condition may name with --observables, or shows one test, not both",
				cmd.CommandPath())
		}
		rs, err := s.ruleset(cmd.Context())
		if err != nil {
			return err
		}
		names := catalog.Names(rs)
		return tellEach(s, names, func() { s.out.Names(rs, names) })
	})
	cmd.Flags().BoolVar(&names, "observables", false, "list what a condition may name: observables, the stone, facts")
	return cmd
}
