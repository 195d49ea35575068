package main

import (
	"context"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"whystone/cmd/whystone/intake"
	"whystone/cmd/whystone/judging"
	"whystone/cmd/whystone/terminal"
	"whystone/engine"
	"whystone/kb"
	"whystone/kb/casefile"
)

// judging loads the ruleset, to judge by it as of a date that --as-of gives.
func (s *session) judging(ctx context.Context, asOf string) (*judging.Judging, error) {
	rs, err := s.ruleset(ctx)
	if err != nil {
		return nil, err
	}
	return s.judgingBy(rs, asOf)
}

// judgingBy prepares a ruleset for that.
func (s *session) judgingBy(rs *kb.Ruleset, asOf string) (*judging.Judging, error) {
	if asOf == "" {
		return judging.New(rs, nil, s.now), nil
	}
	on, err := dateOf(rs, asOf)
	if err != nil {
		return nil, err
	}
	return judging.New(rs, &on, s.now), nil
}

// asOfFlag is that date.
func asOfFlag(cmd *cobra.Command, asOf *string) {
	cmd.Flags().StringVar(asOf, "as-of", "", "judge as of this `date` what says no date of its own (default: now)")
}

// dateOf reads --as-of.
func dateOf(rs *kb.Ruleset, asOf string) (time.Time, error) {
	on, ok := casefile.ParseTime(asOf, rs.Policy.Zone)
	if !ok {
		return on, usageError("--as-of %q is no date; write 2031-04-12, or 2031-04-12T10:20:00+02:00", asOf)
	}
	return on, nil
}

// dateOrNow is the date of --as-of, and without one the clock's.
func (s *session) dateOrNow(rs *kb.Ruleset, asOf string) (time.Time, error) {
	if asOf == "" {
		return s.now().In(rs.Policy.Zone), nil
	}
	return dateOf(rs, asOf)
}

func (a *app) judge() *cobra.Command {
	var asOf string
	var watch bool
	cmd := &cobra.Command{
		Use:   "judge FILE...",
		Short: "Give a verdict on each case",
		Long: `Judge gives a verdict on each case: what the stone is, what becomes of the
claim, what the verdict rests on, and what must be known or done now. A rule in
draft has no effect; what it would change if it were active is told beside.

A file holds one case or several, as YAML, JSON, or JSON lines; - is standard
input. A case that can't be read is told and passed over, and the exit status is
then 2.`,
		Example: `  whystone judge testdata/demo/*.yaml
  whystone judge --json intake.jsonl
  whystone judge --watch case.yaml --layer house`,
		Args: needs("a case file, or - for standard input"),
		RunE: a.does(func(s *session, cmd *cobra.Command, args []string) error {
			if watch {
				return s.watch(cmd.Context(), args, asOf)
			}
			return s.eachCase(cmd.Context(), args, asOf, true, func(t terminal.Told) error {
				return s.told(t.Output, func() { s.out.Verdict(t) })
			})
		}),
	}
	asOfFlag(cmd, &asOf)
	cmd.Flags().BoolVar(&watch, "watch", false, "judge again whenever the ruleset or the case's file changes")
	return cmd
}

// eachCase judges the cases of files one after another, and tells those that can't be. With closing, what holds for all
// that was told is told last.
func (s *session) eachCase(ctx context.Context, files []string, asOf string, closing bool,
	do func(terminal.Told) error) error {
	j, err := s.judging(ctx, asOf)
	if err != nil {
		return err
	}
	var last error
	told := false
	twice := numbersGiven{}
	for it, err := range s.cases(ctx, files, j.Ruleset) {
		if err != nil {
			return err
		}
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if it.Case == nil {
			last = &ended{status: unusable}
			if err := s.notJudged(it); err != nil {
				return err
			}
			continue
		}
		if before := twice.note(it); before != "" {
			s.err.Text(terminal.Plain, 0,
				fmt.Sprintf("Two cases have the number %s: one in %s, one in %s. Both are judged; give one of them "+
					"another number.", it.ID, before, it.File))
			if err := write(s.err); err != nil {
				return err
			}
		}
		if err := do(j.Of(it.Case)); err != nil {
			return err
		}
		told = true
	}
	if closing && told && !s.json() {
		s.closing(j.Ruleset)
	}
	if err := write(s.out); err != nil {
		return err
	}
	return last
}

// numbersGiven are the files in which the cases of one run stand, by the number of the case.
type numbersGiven map[string]string

// mostNumbers bounds how many are kept: two cases of one number stand near each other, if they do.
const mostNumbers = 100_000

// note keeps a case's number, and tells in which file it was given before; "" when it was not, or the case has none.
func (n numbersGiven) note(it intake.Item) (before string) {
	if before = n[it.ID]; it.ID != "" && len(n) < mostNumbers {
		n[it.ID] = it.File
	}
	return before
}

// notJudged tells of a case that could not be read: in its place in JSON, else beside the verdicts.
func (s *session) notJudged(it intake.Item) error {
	if s.json() {
		return s.print(engine.Failure{Format: casefile.Format, Case: it.ID, Error: it.Found})
	}
	who := it.File
	if it.ID != "" {
		who = it.ID + " (" + it.File + ")"
	}
	s.err.Text(terminal.Bold, 0, "Not judged: "+who)
	s.err.Diagnostics(it.Found)
	s.err.Blank()
	return write(s.err)
}
