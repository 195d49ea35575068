package main

import (
	"github.com/spf13/cobra"

	"whystone/cmd/whystone/terminal"
	"whystone/engine/next"
	"whystone/kb"
)

func (a *app) next() *cobra.Command {
	var asOf string
	var all bool
	var lacks []string
	cmd := &cobra.Command{
		Use:   "next FILE...",
		Short: "Say what to test next",
		Long: `Next plays every test that can be done on the stone and does no harm through the
engine, outcome by outcome, and puts first what is expected to save most. To
stop, and to send the stone on, are answers too. Tests that harm are listed
apart, with the reason why not.`,
		Example: `  whystone next testdata/demo/04-mounted-one-weak-test.yaml
  whystone next --lacks refractometer case.yaml`,
		Args: needs("a case file, or - for standard input"),
		RunE: a.does(func(s *session, cmd *cobra.Command, args []string) error {
			var adviser *next.Adviser
			return s.eachCase(cmd.Context(), args, asOf, true, func(t terminal.Told) error {
				if adviser == nil {
					if err := knownTests(t.Ruleset, lacks); err != nil {
						return err
					}
					adviser = next.New(t.Engine)
				}
				advice := adviser.Next(t.Case, t.Moment, next.Options{Lacks: lacks})
				return s.told(advice, func() { s.out.Next(t, advice, all) })
			})
		}),
	}
	asOfFlag(cmd, &asOf)
	cmd.Flags().BoolVar(&all, "all", false, "every test that can be done, and each outcome")
	cmd.Flags().StringSliceVar(&lacks, "lacks", nil, "a `test` that the house has no instrument for; may be repeated")
	_ = cmd.RegisterFlagCompletionFunc("lacks",
		a.completing(func(rs *kb.Ruleset) []cobra.Completion { return rs.TestIDs() })) // it exists
	return cmd
}

func knownTests(rs *kb.Ruleset, ids []string) error {
	for _, id := range ids {
		if rs.Test(id) == nil {
			return usageError("--lacks: no test is called %q", id).near(id, rs.TestIDs())
		}
	}
	return nil
}
