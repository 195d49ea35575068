package main

import (
	"context"
	"runtime/debug"

	"github.com/spf13/cobra"

	"whystone/cmd/whystone/judging"
)

func (a *app) bookIssue() *cobra.Command {
	var asOf string
	var seen int
	cmd := &cobra.Command{
		Use:   "issue CASE",
		Short: "Issue the verdict: print it, and keep what was told",
		Long: `Issue judges a case by the rules of today, prints the verdict, and keeps what it
printed, the whole reasoning, the rules' files as they are, and by which method
and program. "whystone why case:NUMBER" shows it again, byte for byte, whatever
becomes of the rules.`,
		Example: `  whystone casebook issue 2031-42-K`,
		Args:    needCase(""),
		RunE: a.keep(false, func(ctx context.Context, k *keeping, args []string) error {
			return k.issue(ctx, args[0], seen, asOf)
		}),
	}
	cmd.Flags().StringVar(&asOf, "as-of", "",
		"judge as of this `date` if the case says no date of its own (default: now)")
	versionFlag(cmd, &seen)
	return cmd
}

func (k *keeping) issue(ctx context.Context, name string, seen int, asOf string) error {
	j, err := k.judging(ctx, asOf)
	if err != nil {
		return err
	}
	s, head, err := k.find(ctx, name)
	if err != nil {
		return err
	}
	if seen == 0 {
		seen = s.Version // by which it is judged
	}
	it := judging.Read(j.Ruleset, s)
	if it.Case == nil {
		return &ended{status: unusable, says: s.Number + " can't be judged by these rules", list: it.Found}
	}
	d, told, err := judging.Issue(j.Of(it.Case), s, head, programVersion())
	if err != nil {
		return err
	}
	if s, err = k.Do(ctx, k.by, s, seen, nil, d); err != nil {
		return err
	}
	if k.json() {
		return k.done(s, "issued")
	}
	_, err = k.stdout.Write(told)
	return err
}

// programVersion says which program this is: its version, and the revision that it was made of, as far as they are
// known.
func programVersion() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "whystone"
	}
	says := "whystone " + info.Main.Version
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" {
			says += " " + s.Value
		}
	}
	return says
}
