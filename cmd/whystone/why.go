package main

import (
	"context"
	"io"

	"github.com/spf13/cobra"

	"whystone/cmd/whystone/page"
	"whystone/cmd/whystone/terminal"
	"whystone/engine/answers"
	"whystone/kb"
)

func (a *app) why() *cobra.Command {
	var asOf string
	var q asked
	var now bool
	cmd := &cobra.Command{
		Use:   "why FILE...",
		Short: "Show the reasoning behind a verdict",
		Long: `Why shows the reasoning from the verdict down to the readings: what was checked,
what the readings and rules say family by family, what is excluded and by what,
and what was set aside. Only what mattered is told; --all gives every step with
its figures, source, file and line.

Of a case of the casebook on which a verdict was issued (case:2031-42-K) it
shows what was told, byte for byte; with --now, what would be told today and
the first step at which the two part. The other questions are about today.`,
		Example: `  whystone why testdata/demo/01-probe-says-diamond.yaml
  whystone why --all case.yaml
  whystone why case:2031-42-K
  whystone why --now case:2031-42-K`,
		Args: needs("a case file, or - for standard input"),
		RunE: a.does(func(s *session, cmd *cobra.Command, args []string) error {
			if q.count() > 1 {
				return usageError("%s gives one answer at a time: one of --all, --not, --rule, --rests, --change, "+
					"--waiting, --repeat, --page, --picture", cmd.CommandPath())
			}
			if now {
				return s.whyEachNow(cmd.Context(), args, asOf, &q)
			}
			switch {
			case q.page != "":
				return s.whyPage(cmd.Context(), args, asOf, q.page)
			case q.picture != "":
				return s.whyPicture(cmd.Context(), args, asOf, q.picture)
			}
			if q.count() == 0 {
				rest, err := s.whyEachTold(cmd.Context(), args)
				if err != nil || len(rest) == 0 {
					return err
				}
				args = rest
			}
			return s.eachCase(cmd.Context(), args, asOf, true, func(t terminal.Told) error { return s.reason(t, &q) })
		}),
	}
	asOfFlag(cmd, &asOf)
	f := cmd.Flags()
	f.BoolVar(&q.all, "all", false, "every step, with figures and places")
	f.StringVar(&q.not, "not", "", "why it was not called this `material` or group")
	f.StringVar(&q.rule, "rule", "", "what came of this `rule`: which part of it is met, and which is not")
	f.BoolVar(&q.rests, "rests", false, "the smallest sets of readings that alone give the verdict")
	f.BoolVar(&q.change, "change", false, "the smallest changes of readings that would flip the verdict")
	f.BoolVar(&q.waiting, "waiting", false, "the rules that wait for a reading, and would change something")
	f.BoolVar(&q.repeat, "repeat", false,
		"what to repeat where the readings contradict each other, and what that would point to")
	f.BoolVar(&now, "now", false, "what was told of a case of the casebook, beside what would be told now")
	f.StringVar(&q.page, "page", "", "write the reasoning as a page to print to this `file`")
	f.StringVar(&q.picture, "picture", "",
		"draw the stone among the materials, and what speaks for each, to this `file` (.svg or .html)")
	_ = cmd.RegisterFlagCompletionFunc("not",
		a.completing(func(rs *kb.Ruleset) []cobra.Completion { return rs.NodeIDs() })) // it exists
	return cmd
}

// whyPage writes the reasoning behind all cases as one page.
func (s *session) whyPage(ctx context.Context, files []string, asOf, path string) error {
	if err := s.mayWrite([]string{path}, files...); err != nil {
		return err
	}
	var cases []page.Case
	var asker *answers.Asker
	err := s.eachCase(ctx, files, asOf, false, func(t terminal.Told) error {
		if asker == nil {
			asker = answers.New(t.Engine)
		}
		cases = append(cases, page.Of(asker, t, s.head, ""))
		return nil
	})
	if len(cases) == 0 {
		return err
	}
	if e := toFile(path, func(w io.Writer) error { return page.Write(w, cases) }); e != nil {
		return e
	}
	return err
}
