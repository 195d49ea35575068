package main

import (
	"github.com/spf13/cobra"

	"whystone/cmd/whystone/tell"
	"whystone/kb"
)

func (a *app) why() *cobra.Command {
	var asOf string
	var all bool
	cmd := &cobra.Command{
		Use:   "why FILE...",
		Short: "Show the reasoning behind a verdict",
		Long: `Why shows the reasoning from the verdict down to the readings: what was checked,
what the readings and rules say family by family, what is excluded and by what,
and what was set aside. Only what mattered is told; --all gives every step with
its figures, source, file and line.`,
		Example: `  whystone why testdata/demo/01-probe-says-diamond.yaml
  whystone why --all case.yaml`,
		Args: needFiles,
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := a.begin(cmd)
			if err != nil {
				return err
			}
			told := false
			return s.eachCase(cmd.Context(), args, asOf, func(t tell.Told) error {
				told = true
				return s.reason(t, all)
			}, func(rs *kb.Ruleset) {
				if told && !s.json() {
					s.out.Closing(rs)
				}
			})
		},
	}
	cmd.Flags().StringVar(&asOf, "as-of", "", "judge as of this `date` what says no date of its own (default: now)")
	cmd.Flags().BoolVar(&all, "all", false, "every step, with figures and places")
	return cmd
}

// reason writes the chain behind one verdict.
func (s *session) reason(t tell.Told, all bool) error {
	switch {
	case s.json():
		return s.print(t.Explained)
	case all:
		s.out.WhyAll(t)
	default:
		s.out.Why(t)
	}
	s.out.Blank()
	return write(s.out)
}
