package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/casebook/sqlite"
	"whystone/cmd/whystone/terminal"
)

func (a *app) bookExport() *cobra.Command {
	var events, particulars bool
	cmd := &cobra.Command{
		Use:   "export [CASE|WHAT...]",
		Short: "Write cases as an archive to standard output, or everything",
		Long: `Export writes cases as JSON lines, the oldest first: all of them, those named,
or those that meet all that is looked for. What was told and what was true goes
with them, so that replay reads them. With --events it writes everything: every
event, text and file, for import --events. Customers' particulars, notes and
pictures are left out, unless --particulars asks for them.`,
		Example: `  whystone casebook export claim=diamond > diamonds.jsonl
  whystone casebook export --events > everything.jsonl`,
		RunE: a.keep(false, func(ctx context.Context, k *keeping, args []string) error {
			if events {
				if len(args) > 0 {
					return usageError("--events writes the whole casebook, and no part of it")
				}
				return k.buffered(func(out io.Writer) error {
					return k.Read(ctx, func(v casebook.View) error {
						return casebook.ExportEvents(v, out,
							particulars)
					})
				})
			}
			return k.buffered(func(out io.Writer) error { return k.export(ctx, args, particulars, out) })
		}),
	}
	cmd.Flags().BoolVar(&events, "events", false, "everything, not only what each case has come to")
	cmd.Flags().BoolVar(&particulars, "particulars", false,
		"what is held apart too: customers' particulars, notes and, with --events, pictures")
	return cmd
}

// buffered writes to standard output.
func (s *session) buffered(do func(io.Writer) error) error {
	out := bufio.NewWriterSize(s.stdout, 256<<10)
	return errors.Join(do(out), out.Flush())
}

func (k *keeping) export(ctx context.Context, args []string, particulars bool, out io.Writer) error {
	specs := args
	if len(args) == 0 || strings.Contains(args[0], "=") {
		specs = []string{"?" + strings.Join(args, "&")}
	}
	return k.Read(ctx, func(v casebook.View) error {
		for _, spec := range specs {
			err := k.each(ctx, v, spec, func(s *casebook.State) error {
				held, err := heldOf(v, s, particulars)
				if err != nil {
					return err
				}
				_, err = io.WriteString(out, s.Form(held)+"\n")
				return err
			})
			if err != nil {
				return err
			}
		}
		return nil
	})
}

func (a *app) bookImport() *cobra.Command {
	var events bool
	cmd := &cobra.Command{
		Use:   "import FILE...",
		Short: "Take in an archive of cases, or an export of everything",
		Long: `Import opens the cases of an archive, all of them or none, as open does: their
readings, what was told of them and what was true. With --events it reads what
export --events wrote into an empty casebook, event by event, and checks that
the chain of hashes is whole.`,
		Args: needs("a case file, or - for standard input"),
		RunE: a.keep(true, func(ctx context.Context, k *keeping, args []string) error {
			if !events {
				return k.openAll(ctx, args, "")
			}
			if len(args) != 1 {
				return usageError("--events reads one export")
			}
			return k.importEvents(ctx, args[0])
		}),
	}
	cmd.Flags().BoolVar(&events, "events", false, "the file is an export of everything")
	return cmd
}

func (k *keeping) importEvents(ctx context.Context, file string) error {
	from := k.stdin
	if file != "-" {
		f, err := os.Open(file)
		if err != nil {
			return usageError("the export can't be read: %s", err)
		}
		defer func() { _ = f.Close() }() // only read from
		from = f
	}
	left, err := k.ImportEvents(ctx, k.by, from)
	if err != nil {
		return usageError("%s: %s; nothing was written", file, err)
	}
	says := "Everything is imported."
	if left > 0 {
		says += " " + counted(left, "particular") + " that the export left out is recorded as erased."
	}
	return k.say(says)
}

// say says a sentence: to people on standard output, beside data on standard error.
func (k *keeping) say(says string) error {
	p := k.out
	if k.json() {
		p = k.err
	}
	p.Text(terminal.Plain, 0, says)
	return write(p)
}

func (a *app) bookBackup() *cobra.Command {
	return &cobra.Command{
		Use:   "backup FILE",
		Short: "Write a backup, while the casebook is in use",
		Long: `Backup writes the casebook as it is at this moment to a new file, checks it, and
tells its head. What was erased before is not in it; what is erased afterwards
stays in it until the backup is destroyed.`,
		Args: arguments(1, 1, "takes one file"),
		RunE: a.keep(false, func(ctx context.Context, k *keeping, args []string) error {
			if err := k.store.Backup(ctx, args[0]); err != nil {
				return err
			}
			return k.say(args[0] + " is written. Keep it elsewhere than the casebook.")
		}),
	}
}

func (a *app) bookRestore() *cobra.Command {
	var skip int
	cmd := &cobra.Command{
		Use:   "restore FILE",
		Short: "Make the casebook of a backup",
		Long: `Restore checks a backup and makes the casebook of it, where there is none. Cases
that were opened after the backup have numbers that it does not know; so that no
number is given twice, counting goes on --skip numbers above the last it knows.`,
		Args: arguments(1, 1, "takes one file"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if skip < 0 {
				return usageError("--skip can't be below zero")
			}
			return a.restoreBook(cmd, args[0], skip)
		},
	}
	cmd.Flags().IntVar(&skip, "skip", 1000, "leave out so `many` numbers")
	return cmd
}

func (a *app) restoreBook(cmd *cobra.Command, file string, skip int) error {
	s, err := a.begin(cmd)
	if err != nil {
		return err
	}
	if err := s.restoreFile(cmd.Context(), file); err != nil {
		return bookError(err)
	}
	return a.keep(false, func(ctx context.Context, k *keeping, _ []string) error {
		if err := k.Restore(ctx, k.by, skip); err != nil {
			return err
		}
		return k.say("The casebook is restored. What was written after the backup is not in it.")
	})(cmd, nil)
}

// restoreFile puts a backup in the casebook's place, once it is found whole. It is checked as a copy: to open a file
// may change it.
func (s *session) restoreFile(ctx context.Context, file string) error {
	if _, err := os.Stat(file); err != nil {
		return usageError("the backup can't be read: %s", err)
	}
	if sqlite.Exists(s.config.Book) {
		return usageError("there is a casebook in %s already: move it away first, or name another folder with --book",
			s.config.Book)
	}
	part := filepath.Join(s.config.Book, "restored.part")
	if err := sqlite.Copy(file, filepath.Join(part, sqlite.Name)); err != nil {
		return err
	}
	defer func() { _ = os.RemoveAll(part) }() // a copy
	store, err := sqlite.Open(ctx, part, false)
	if err != nil {
		return err
	}
	v, err := (&casebook.Book{Store: store}).Verify(ctx)
	if err = errors.Join(err, store.Sound(ctx), store.Close()); err != nil {
		return fmt.Errorf("the backup can't be used: %w", err)
	}
	if !v.Whole() {
		return fmt.Errorf("the backup is not whole: event %d: %s", v.Wrong[0].Seq, v.Wrong[0].Says)
	}
	return sqlite.Move(filepath.Join(part, sqlite.Name), s.config.Book)
}
