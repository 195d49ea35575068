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
	}
	cmd.PersistentFlags().String("by", "", "`who` does this (default: your user name); it is marked as unverified")
	return a.group(cmd, a.bookOpen(), a.bookAdd(), a.bookCorrect(), a.bookWithdraw(), a.bookIssue(), a.bookClose(),
		a.bookReopen(), a.bookNote(), a.bookPicture(), a.bookTruth(), a.bookErase(), a.bookList(), a.bookSearch(),
		a.bookExport(), a.bookImport(), a.bookBackup(), a.bookRestore(), a.bookVerify())
}

// keeping is a command at work on the casebook.
type keeping struct {
	*session
	*casebook.Book
	store *sqlite.Store
	by    string
}

// keep is what a command runs that works on the casebook: that is opened for it, and closed afterwards. It is made when
// there is none, if that is asked for.
func (a *app) keep(create bool, do func(ctx context.Context, k *keeping, args []string) error) runs {
	return a.does(func(s *session, cmd *cobra.Command, args []string) error {
		return s.withBook(cmd.Context(), create, func(k *keeping) error {
			if k.by = a.me(); cmd.Flags().Lookup("by").Value.String() != "" {
				k.by = cmd.Flags().Lookup("by").Value.String()
			}
			return do(cmd.Context(), k, args)
		})
	})
}

// withBook opens the casebook for some work, and closes it afterwards.
func (s *session) withBook(ctx context.Context, create bool, do func(*keeping) error) (err error) {
	k, err := s.openBook(ctx, create)
	if err != nil {
		return err
	}
	defer func() {
		if e := k.store.Close(); err == nil {
			err = bookError(e)
		}
	}()
	return bookError(do(k))
}

// look reads in the casebook, whose head is told then with all that rests on it.
func (s *session) look(ctx context.Context, do func(casebook.View) error) error {
	return s.withBook(ctx, false, func(k *keeping) error {
		return k.Read(ctx, func(v casebook.View) error {
			head, err := v.Head()
			if err != nil {
				return err
			}
			s.head = head.String()
			return do(v)
		})
	})
}

// openBook opens the casebook of the settings.
func (s *session) openBook(ctx context.Context, create bool) (*keeping, error) {
	if s.config.Book == "" {
		return nil, usageError("nobody says where the casebook is: name its folder with --book")
	}
	store, err := sqlite.Open(ctx, s.config.Book, create)
	if errors.Is(err, fs.ErrNotExist) && !create {
		return nil, usageError("there is no casebook in %s; the first case that is opened makes one", s.config.Book)
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
	case errors.Is(err, casebook.ErrNobody):
		return usageError("%s: give --by NAME", err)
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
		fmt.Fprintf(&b, "\n  %d  %s", e.Version, terminal.Entry(e, terminal.Deed(e)))
	}
	return b.String()
}

// findCase finds a case by what the command line calls it.
func findCase(v casebook.View, name string) (*casebook.State, error) {
	return casebook.Find(v, strings.TrimPrefix(name, judging.CasePrefix))
}

// find finds a case, with the head of the casebook.
func (k *keeping) find(ctx context.Context, name string) (s *casebook.State, head casebook.Head, err error) {
	err = k.Read(ctx, func(v casebook.View) error {
		if head, err = v.Head(); err != nil {
			return err
		}
		s, err = findCase(v, name)
		return err
	})
	return s, head, err
}

// done tells what became of a case.
func (k *keeping) done(s *casebook.State, what string) error {
	says := s.Number
	if s.Called != "" {
		says += " (" + s.Called + ")"
	}
	return k.tell(struct {
		Format  int    `json:"format"`
		Case    string `json:"case"`
		Called  string `json:"called,omitempty"`
		Version int    `json:"version"`
		Did     string `json:"did"`
	}{1, s.Number, s.Called, s.Version, what}, func() {
		k.out.Text(terminal.Plain, 0, fmt.Sprintf("%s %s; version %d.", says, what, s.Version))
	})
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
