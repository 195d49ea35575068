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
	"whystone/cmd/whystone/judging"
	"whystone/cmd/whystone/terminal"
	"whystone/kb"
)

func (a *app) bookList() *cobra.Command {
	var all, particulars bool
	var most int
	cmd := &cobra.Command{
		Use:   "list [CASE]",
		Short: "List the open cases, or show one with its history",
		Example: `  whystone casebook list
  whystone casebook list 2031-42-K`,
		Args: atMostOne,
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.keep(cmd, false, func(k *keeping) error {
				switch {
				case len(args) == 1:
					return k.show(cmd.Context(), args[0], particulars)
				case all:
					return k.search(cmd.Context(), nil, most)
				}
				return k.search(cmd.Context(), []string{"status=open"}, most)
			})
		},
	}
	cmd.Flags().BoolVar(&all, "all", false, "closed cases too")
	cmd.Flags().BoolVar(&particulars, "particulars", false, "the customer's particulars and notes too")
	mostFlag(cmd, &most)
	return cmd
}

func mostFlag(cmd *cobra.Command, most *int) {
	cmd.Flags().IntVar(most, "most", 50, "list at most so `many`; 0: all")
}

func (a *app) bookSearch() *cobra.Command {
	var most int
	cmd := &cobra.Command{
		Use:   "search WHAT...",
		Short: "Search the cases",
		Long: `Search lists the cases that meet all that is given, newest first: words, which
are looked for in claims, notes, customers' particulars, what others call a
case, and reports; or KEY=VALUE:

  claim=diamond             what is claimed
  material=corundum         what the last verdict names, or a group above it
  verdict=narrowed          the last verdict
  truth=glass               what it turned out to be
  from=2031-04-01 to=...    the day it was opened
  by=anna                   who did something to it
  status=open               open or closed
  called=HQ-0101            what others call it`,
		Example: `  whystone casebook search claim=diamond verdict=identified from=2031-04-01
  whystone judge 'case:?claim=diamond&status=open'`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usageError("%s needs something to look for", cmd.CommandPath())
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.keep(cmd, false, func(k *keeping) error { return k.search(cmd.Context(), args, most) })
		},
	}
	mostFlag(cmd, &most)
	return cmd
}

// query reads what is looked for.
func (s *session) query(ctx context.Context, parts []string) (*casebook.Query, error) {
	q, err := judging.Query(parts, func() (*kb.Ruleset, error) { return s.ruleset(ctx) })
	if err != nil {
		return nil, usageError("%s", err)
	}
	return q, nil
}

func (k *keeping) search(ctx context.Context, parts []string, most int) error {
	q, err := k.query(ctx, parts)
	if err != nil {
		return err
	}
	var list []casebook.Summary
	more := false
	err = k.Read(ctx, func(v casebook.View) (err error) {
		list, more, err = casebook.Search(v, q, most)
		return err
	})
	if err != nil {
		return err
	}
	if k.json() {
		for _, sum := range list {
			if err := k.print(sum); err != nil {
				return err
			}
		}
		return nil
	}
	k.out.Cases(list, more)
	return write(k.out)
}

// show shows one case.
func (k *keeping) show(ctx context.Context, name string, particulars bool) error {
	var s *casebook.State
	var head casebook.Head
	held := map[string]string{}
	err := k.Read(ctx, func(v casebook.View) (err error) {
		if head, err = v.Head(); err != nil {
			return err
		}
		if s, err = casebook.Find(v, strings.TrimPrefix(name, judging.CasePrefix)); err != nil || !particulars {
			return err
		}
		held, err = casebook.Texts(v, s)
		return err
	})
	if err != nil {
		return err
	}
	if k.json() {
		return k.print(s.Keep(head, held))
	}
	k.out.Case(s, held)
	k.out.Blank()
	k.out.Text(terminal.Dim, 0, "Casebook "+head.String()+".")
	return write(k.out)
}

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
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.keep(cmd, false, func(k *keeping) error {
				if events {
					if len(args) > 0 {
						return usageError("--events writes the whole casebook, and no part of it")
					}
					return k.buffered(func(out io.Writer) error {
						return k.Read(cmd.Context(), func(v casebook.View) error { return casebook.ExportEvents(v, out, particulars) })
					})
				}
				return k.buffered(func(out io.Writer) error { return k.export(cmd.Context(), args, particulars, out) })
			})
		},
	}
	cmd.Flags().BoolVar(&events, "events", false, "everything, not only what each case has come to")
	cmd.Flags().BoolVar(&particulars, "particulars", false, "what is held apart too: customers' particulars, notes and, with --events, pictures")
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
				held := map[string]string{}
				if particulars {
					var err error
					if held, err = casebook.Texts(v, s); err != nil {
						return err
					}
				}
				_, err := io.WriteString(out, s.Form(held)+"\n")
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
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.keep(cmd, true, func(k *keeping) error {
				if !events {
					return k.openAll(cmd.Context(), args, "")
				}
				if len(args) != 1 {
					return usageError("--events reads one export")
				}
				return k.importEvents(cmd.Context(), args[0])
			})
		},
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
		return &ended{status: unusable, says: file + ": " + err.Error() + "; nothing was written"}
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
		Args: oneFile,
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.keep(cmd, false, func(k *keeping) error {
				if err := k.store.Backup(cmd.Context(), args[0]); err != nil {
					return err
				}
				return k.say(args[0] + " is written. Keep it elsewhere than the casebook.")
			})
		},
	}
}

func oneFile(cmd *cobra.Command, args []string) error {
	if len(args) != 1 {
		return usageError("%s takes one file", cmd.CommandPath())
	}
	return nil
}

func (a *app) bookRestore() *cobra.Command {
	var skip int
	cmd := &cobra.Command{
		Use:   "restore FILE",
		Short: "Make the casebook of a backup",
		Long: `Restore checks a backup and makes the casebook of it, where there is none. Cases
that were opened after the backup have numbers that it does not know; so that no
number is given twice, counting goes on --skip numbers above the last it knows.`,
		Args: oneFile,
		RunE: func(cmd *cobra.Command, args []string) error {
			if skip < 0 {
				return usageError("--skip can't be below nought")
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
	return a.keep(cmd, false, func(k *keeping) error {
		if err := k.Restore(cmd.Context(), k.by, skip); err != nil {
			return err
		}
		return k.say("The casebook is restored. What was written after the backup is not in it.")
	})
}

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
		RunE: func(cmd *cobra.Command, _ []string) error {
			return a.keep(cmd, false, func(k *keeping) error { return k.verify(cmd.Context(), heads, rebuild) })
		},
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
	if err := k.tellVerification(v); err != nil {
		return err
	}
	if !v.Whole() || v.Index {
		return &ended{status: finding}
	}
	return nil
}

func (k *keeping) tellVerification(v *casebook.Verification) error {
	if k.json() {
		return k.print(v)
	}
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
		k.out.Text(terminal.Plain, 0, "The index does not agree with the events: searches may miss cases. casebook verify --rebuild makes it anew.")
	}
	says := fmt.Sprintf("%s in %s", counted(int(v.Events), "event"), counted(v.Cases, "case"))
	if v.Erased > 0 {
		says += ", " + counted(v.Erased, "particular") + " erased"
	}
	if v.Whole() {
		says += ": all as they were written"
	}
	k.out.Text(terminal.Bold, 0, says+". Casebook "+v.Head+".")
	return write(k.out)
}

// restoreFile puts a backup in the casebook's place, once it is found whole. It is checked as a copy: to open a file may
// change it.
func (s *session) restoreFile(ctx context.Context, file string) error {
	if _, err := os.Stat(file); err != nil {
		return usageError("the backup can't be read: %s", err)
	}
	if sqlite.Exists(s.config.Book) {
		return usageError("there is a casebook in %s already: move it away first, or name another folder with --book", s.config.Book)
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

func (k *keeping) writePictures(ctx context.Context, name, folder string) error {
	var written []string
	err := k.Read(ctx, func(v casebook.View) error {
		s, err := casebook.Find(v, strings.TrimPrefix(name, judging.CasePrefix))
		if err != nil {
			return err
		}
		if err := os.MkdirAll(folder, 0o700); err != nil {
			return err
		}
		for _, h := range s.Held {
			if h.What != casebook.Picture {
				continue
			}
			p, err := v.Particular(h.ID)
			if err != nil {
				return err
			}
			if p == nil {
				return fmt.Errorf("the picture %s is gone, and no event says that it was erased", h.ID)
			}
			_, kind, _ := strings.Cut(h.Type, "/")
			path := filepath.Join(folder, s.Number+"-"+strings.ReplaceAll(h.ID, "/", "-")+"."+kind)
			if err := os.WriteFile(path, p.Content, 0o600); err != nil {
				return err
			}
			written = append(written, filepath.ToSlash(path))
		}
		return nil
	})
	if err != nil {
		return err
	}
	return k.say(counted(len(written), "picture") + " written: " + strings.Join(written, ", "))
}
