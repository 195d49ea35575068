package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"strings"

	"github.com/spf13/cobra"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/casebook/sqlite"
	"whystone/cmd/whystone/judging"
	"whystone/cmd/whystone/terminal"
)

func (a *app) casebook() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "casebook",
		Short: "Keep cases: what was read, what was told, what was true",
		Long: `The casebook keeps every case as a log of what was done: opened, readings
added, corrected or withdrawn, verdicts issued, what the stone turned out to be.
Nothing is ever changed in the log or taken out of it. Judge, why, next and
replay take case:NUMBER, or case:? and what is looked for, in place of a file.

What concerns a person (customer, notes, pictures) is held apart, can be erased,
and is neither listed nor exported unless --particulars asks for it.`,
		Args: a.knownCommand,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.PersistentFlags().String("by", "", "`who` does this (default: your user name); it is marked as unverified")
	cmd.AddCommand(a.bookOpen(), a.bookAdd(), a.bookCorrect(), a.bookWithdraw(), a.bookIssue(), a.bookClose(),
		a.bookReopen(), a.bookNote(), a.bookPicture(), a.bookTruth(), a.bookErase(), a.bookList(), a.bookSearch(),
		a.bookExport(), a.bookImport(), a.bookBackup(), a.bookRestore(), a.bookVerify())
	return cmd
}

// keeping is a command at work on the casebook.
type keeping struct {
	*session
	*casebook.Book
	store *sqlite.Store
	by    string
}

// keep opens the casebook for a command, and closes it afterwards. It is made when there is none, if that is asked for.
func (a *app) keep(cmd *cobra.Command, create bool, do func(*keeping) error) (err error) {
	s, err := a.begin(cmd)
	if err != nil {
		return err
	}
	k, err := s.openBook(cmd.Context(), create)
	if err != nil {
		return err
	}
	defer func() {
		if e := k.store.Close(); e != nil && err == nil {
			err = bookError(e)
		}
	}()
	if f := cmd.Flags().Lookup("by"); f != nil {
		k.by = f.Value.String()
	}
	if k.by == "" {
		k.by = a.me()
	}
	return bookError(do(k))
}

// openBook opens the casebook of the settings.
func (s *session) openBook(ctx context.Context, create bool) (*keeping, error) {
	if s.config.Book == "" {
		return nil, usageError("nobody says where the casebook is: name its folder with --book")
	}
	store, err := sqlite.Open(ctx, s.config.Book, create)
	if errors.Is(err, fs.ErrNotExist) && !create {
		return nil, &ended{status: unusable, says: "there is no casebook in " + s.config.Book +
			"; the first case that is opened makes one"}
	}
	if err != nil {
		return nil, bookError(err)
	}
	return &keeping{session: s, store: store, Book: &casebook.Book{Store: store, Now: s.now, Random: rand.Reader}}, nil
}

// bookError is how a command ends that the casebook refused.
func bookError(err error) error {
	var e *ended
	var conflict *casebook.Conflict
	var mistakes *judging.Mistakes
	var unissued *judging.Unissued
	var unreadable *judging.Unreadable
	switch {
	case err == nil || errors.As(err, &e) || errors.Is(err, context.Canceled):
		return err
	case errors.As(err, &mistakes):
		return &ended{status: unusable, says: "nothing was written", list: mistakes.Found}
	case errors.As(err, &unissued):
		return &ended{status: unusable, says: unissued.Error() + "; casebook issue issues one"}
	case errors.As(err, &unreadable):
		return &ended{status: unusable, says: unreadable.Error(), list: unreadable.Found}
	case errors.As(err, &conflict):
		return &ended{status: unusable, says: conflicts(conflict)}
	case errors.Is(err, casebook.ErrUnseen):
		return usageError("say with --seen which version of the case this is decided on; casebook list NUMBER shows it")
	}
	return &ended{status: unusable, says: err.Error()}
}

// conflicts says what happened since a version was seen.
func conflicts(c *casebook.Conflict) string {
	if len(c.Since) == 0 {
		return fmt.Sprintf("%s is at version %d only, so version %d can't have been seen; nothing was written",
			c.Number, c.Version, c.Seen)
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s has changed since version %d was seen; nothing was written. Since then:", c.Number, c.Seen)
	for _, e := range c.Since {
		fmt.Fprintf(&b, "\n  %d  %s  %s  %s", e.Version, terminal.Moment(e.At), e.By, terminal.Deed(e))
	}
	return b.String()
}

// find finds a case by what the command line calls it.
func (k *keeping) find(ctx context.Context, name string) (s *casebook.State, head casebook.Head, err error) {
	err = k.Read(ctx, func(v casebook.View) error {
		if head, err = v.Head(); err != nil {
			return err
		}
		s, err = casebook.Find(v, strings.TrimPrefix(name, judging.CasePrefix))
		return err
	})
	return s, head, err
}

// done tells what became of a case.
func (k *keeping) done(s *casebook.State, what string) error {
	if k.json() {
		return k.print(struct {
			Format  int    `json:"format"`
			Case    string `json:"case"`
			Called  string `json:"called,omitempty"`
			Version int    `json:"version"`
			Did     string `json:"did"`
		}{1, s.Number, s.Called, s.Version, what})
	}
	says := s.Number + " " + what + "; version " + fmt.Sprint(s.Version)
	if s.Called != "" {
		says = s.Number + " (" + s.Called + ") " + what + "; version " + fmt.Sprint(s.Version)
	}
	k.out.Text(terminal.Plain, 0, says+".")
	return write(k.out)
}

func needCase(more string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) == 0 {
			return usageError("%s needs a case's number", cmd.CommandPath())
		}
		if more != "" && len(args) < 2 {
			return usageError("%s needs %s after the case's number", cmd.CommandPath(), more)
		}
		if more == "" && len(args) > 1 {
			return usageError("%s takes one case, and got %d", cmd.CommandPath(), len(args))
		}
		return nil
	}
}
