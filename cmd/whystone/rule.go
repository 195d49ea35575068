package main

import (
	"context"
	"io"

	"github.com/spf13/cobra"

	"whystone/cmd/whystone/catalog"
	"whystone/cmd/whystone/intake"
	"whystone/cmd/whystone/terminal"
	"whystone/engine/ruledraft"
	"whystone/kb"
	"whystone/kb/casefile"
)

func (a *app) rule() *cobra.Command {
	return a.beginning(lookup[catalog.RuleOrTable]{
		use:   "rule [ID]",
		short: "Look up a rule",
		long: `Rule shows a rule: its condition, what follows from it, its source and examples,
and where it stands; without an ID, all rules. Of a rule table it shows all
rows, with what follows from each.

With --from it begins a rule instead: a rule file in draft, written to standard
output, that asks for what the verdict on a case rests on and keeps the case as
its example. It loads as it is; what follows from it is to be written.`,
		example: `  whystone rule doubled-edges-two-rays
  whystone rule --from case.yaml > house/new-rule.yaml`,
		list:   (*terminal.Printer).Rules,
		show:   showRule,
		all:    catalog.RulesAndTables,
		find:   catalog.FindRuleOrTable,
		object: func(rs *kb.Ruleset, x catalog.RuleOrTable) any { return x.Of(rs) },
		id:     catalog.RuleOrTable.ID,
	}.command(a))
}

func showRule(p *terminal.Printer, rs *kb.Ruleset, x catalog.RuleOrTable) {
	if x.Table != nil {
		p.RuleTable(rs, x.Table)
		return
	}
	p.Rule(rs, x.Rule)
}

// beginning gives the command --from.
func (a *app) beginning(cmd *cobra.Command) *cobra.Command {
	var from string
	look := cmd.RunE
	cmd.RunE = a.does(func(s *session, cmd *cobra.Command, args []string) error {
		if !cmd.Flags().Changed("from") {
			return look(cmd, args)
		}
		if len(args) > 0 {
			return usageError("%s begins a rule with --from, or looks one up by its name, not both", cmd.CommandPath())
		}
		return s.ruleFrom(cmd.Context(), from)
	})
	cmd.Flags().StringVar(&from, "from", "", "begin a rule with the one case of this `file`; - is standard input")
	return cmd
}

// ruleFrom writes a rule that is begun with a case.
func (s *session) ruleFrom(ctx context.Context, file string) error {
	j, err := s.judging(ctx, "")
	if err != nil {
		return err
	}
	c, err := s.onlyCase(ctx, file, j.Ruleset)
	if err != nil {
		return err
	}
	sk, err := ruledraft.From(j.Engine, c, j.Moment(c), s.now())
	switch {
	case err != nil:
		return usageError("no rule can be begun with the case %s: %s", c.ID, err)
	case s.json():
		return s.print(sk)
	}
	_, err = io.WriteString(s.stdout, sk.Text)
	return err
}

// onlyCase reads the case of a file that holds one.
func (s *session) onlyCase(ctx context.Context, file string, rs *kb.Ruleset) (*casefile.Case, error) {
	var only *intake.Item
	for it, err := range s.cases(ctx, []string{file}, rs) {
		if err != nil {
			return nil, err
		}
		if only != nil {
			return nil, usageError("a rule is begun with one case, and %s holds several: put the one that it is about "+
				"into a file of its own", it.File)
		}
		only = &it
	}
	if only == nil || only.Case == nil {
		return nil, &ended{status: unusable, says: "the case can't be read", list: only.Found}
	}
	return only.Case, nil
}
