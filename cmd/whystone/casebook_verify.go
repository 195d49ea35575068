package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/terminal"
)

func (a *app) bookVerify() *cobra.Command {
	var heads []string
	var rebuild bool
	cmd := &cobra.Command{
		Use:   "verify",
		Short: "Check that nothing was changed or lost",
		Long: `Verify goes through the whole log: every event's hash and place, the chain,
what is held apart, and the texts and files that verdicts name. It names the
first event that is not as it was written. A log that somebody wrote anew as a
whole is sound in itself: only the head on a report that was printed before
tells. Give it with --head. Exit status 1: something is wrong.`,
		Example: `  whystone casebook verify --head 1042-3f9a1c0b77de5a21`,
		Args:    cobra.NoArgs,
		RunE: a.keep(false, func(ctx context.Context, k *keeping, _ []string) error {
			return k.verify(ctx, heads, rebuild)
		}),
	}
	cmd.Flags().StringArrayVar(&heads, "head", nil, "a `head` from a report; may be repeated")
	cmd.Flags().BoolVar(&rebuild, "rebuild", false, "make the index anew of the events first")
	return cmd
}

func (k *keeping) verify(ctx context.Context, heads []string, rebuild bool) error {
	var given []casebook.Head
	for _, text := range heads {
		h, err := casebook.ParseHead(text)
		if err != nil {
			return usageError("--head %q: %s", text, err)
		}
		given = append(given, h)
	}
	if rebuild {
		if err := k.Rebuild(ctx); err != nil {
			return err
		}
	}
	if err := k.store.Sound(ctx); err != nil {
		return &ended{status: finding, says: err.Error()}
	}
	v, err := k.Verify(ctx, given...)
	if err != nil {
		return err
	}
	if err := k.tell(v, func() { k.tellVerification(v) }); err != nil {
		return err
	}
	if !v.Whole() || v.Index {
		return &ended{status: finding}
	}
	return nil
}

func (k *keeping) tellVerification(v *casebook.Verification) {
	for i, w := range v.Wrong {
		says := w.Says
		if w.Seq > 0 {
			says = fmt.Sprintf("event %d", w.Seq)
			if w.Case != "" {
				says += fmt.Sprintf(" (%s, version %d)", w.Case, w.Version)
			}
			says += ": " + w.Says
		}
		if i == 0 {
			says = "First: " + says
		}
		k.out.Text(terminal.Plain, 0, says)
	}
	if v.Index {
		k.out.Text(terminal.Plain, 0, "The index does not agree with the events: searches may miss cases. casebook "+
			"verify --rebuild makes it anew.")
	}
	says := fmt.Sprintf("%s in %s", counted(int(v.Events), "event"), counted(v.Cases, "case"))
	if v.Erased > 0 {
		says += ", " + counted(v.Erased, "particular") + " erased"
	}
	if v.Whole() {
		says += ": all as they were written"
	}
	k.out.Text(terminal.Bold, 0, says+". Casebook "+v.Head+".")
}
