package main

import (
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"io/fs"
	"time"

	"github.com/spf13/cobra"

	"whystone/cmd/whystone/terminal"
	"whystone/cmd/whystone/users"
	"whystone/cmd/whystone/users/sqlite"
	"whystone/kb/english"
)

func (a *app) user() *cobra.Command {
	return a.group(&cobra.Command{
		Use:   "user",
		Short: "Say who may sign in at the desk, and as what",
		Long: `The desk's users stand beside the casebook, in the same folder. Whoever may write
to that folder may change them: this is how a password is reset that nobody
knows any more. A user who is added or reset gets a word for one sign-in.

Roles: staff take in stones; an author and quality replay the archive, and
quality records what a stone turned out to be; an administrator may do all, and
manages users.`,
	}, a.userAdd(), a.userList(), a.userReset(), a.userRole(), a.userRemove(), a.userAudit())
}

// registering is a command at work on the users.
type registering struct {
	*session
	*users.Register
	by string
}

// register is what a command runs that works on the users: they are opened for it, and closed afterwards.
func (a *app) register(do func(ctx context.Context, r *registering, args []string) error) runs {
	return a.does(func(s *session, cmd *cobra.Command, args []string) (err error) {
		reg, err := s.openUsers(cmd.Context(), false)
		if err != nil {
			return err
		}
		defer func() {
			if e := reg.store.Close(); err == nil {
				err = e
			}
		}()
		return userError(do(cmd.Context(), &registering{session: s, Register: reg.Register,
			by: "the command line, as " + cmp.Or(a.me(), "somebody")}, args))
	})
}

// me is what this machine calls who runs the program; empty when it does not say.
func (a *app) me() string {
	for _, name := range []string{"USER", "LOGNAME", "USERNAME"} {
		if v := a.env.Get(name); v != "" {
			return v
		}
	}
	return ""
}

// usersFile is the users of the data folder.
type usersFile struct {
	*users.Register
	store *sqlite.Store
}

func (s *session) openUsers(ctx context.Context, create bool) (*usersFile, error) {
	if s.config.Book == "" {
		return nil, usageError("nobody says where the casebook is: name its folder with --book")
	}
	store, err := sqlite.Open(ctx, s.config.Book, create)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, usageError("there are no users in %s; whystone desk makes the first", s.config.Book)
	}
	if err != nil {
		return nil, err
	}
	return &usersFile{users.New(store, s.now, rand.Reader, users.Usual), store}, nil
}

func userError(err error) error {
	if refused, ok := errors.AsType[*users.Refused](err); ok {
		return &ended{status: unusable, says: refused.Says}
	}
	return err
}

// done tells what became of a user, and the word for one sign-in if they were given one.
func (r *registering) done(name, did, word string) error {
	return r.tell(struct {
		Format int    `json:"format"`
		User   string `json:"user"`
		Did    string `json:"did"`
		Word   string `json:"word,omitempty"`
	}{1, users.Fold(name), did, word}, func() {
		if word == "" {
			r.out.Text(terminal.Plain, 0, users.Fold(name)+" "+did+".")
			return
		}
		r.out.Text(terminal.Plain, 0, users.Fold(name)+" "+did+". The word for one sign-in, good for seven days:")
		r.out.Text(terminal.Bold, 4, word)
	})
}

// oneName needs the name of a user.
var oneName = arguments(1, 1, "needs one user's name, in quotes if it has a space")

func (a *app) userAdd() *cobra.Command {
	var role string
	cmd := &cobra.Command{
		Use:     "add NAME",
		Short:   "Add a user",
		Example: `  whystone user add ben --role staff`,
		Args:    oneName,
		RunE: a.register(func(ctx context.Context, r *registering, args []string) error {
			is, err := users.ParseRole(role)
			if err != nil {
				return err
			}
			word, err := r.Add(ctx, r.by, args[0], is)
			if err != nil {
				return err
			}
			return r.done(args[0], "is added as "+string(is), word)
		}),
	}
	cmd.Flags().StringVar(&role, "role", string(users.Staff), "staff, author, quality or administrator")
	return cmd
}

func (a *app) userReset() *cobra.Command {
	return &cobra.Command{
		Use:     "reset NAME",
		Short:   "Take a user's password away, and end their sessions",
		Example: `  whystone user reset ben`,
		Args:    oneName,
		RunE: a.register(func(ctx context.Context, r *registering, args []string) error {
			word, err := r.Reset(ctx, r.by, args[0])
			if err != nil {
				return err
			}
			return r.done(args[0], "has no password any more", word)
		}),
	}
}

func (a *app) userRole() *cobra.Command {
	return &cobra.Command{
		Use:     "role NAME ROLE",
		Short:   "Give a user another role",
		Example: `  whystone user role ben author`,
		Args:    arguments(2, 2, "needs a user's name and a role"),
		RunE: a.register(func(ctx context.Context, r *registering, args []string) error {
			role, err := users.ParseRole(args[1])
			if err != nil {
				return err
			}
			if err := r.SetRole(ctx, r.by, args[0], role); err != nil {
				return err
			}
			return r.done(args[0], "is "+string(role)+" now", "")
		}),
	}
}

func (a *app) userRemove() *cobra.Command {
	return &cobra.Command{
		Use:     "remove NAME",
		Short:   "Remove a user, and end their sessions",
		Long:    `Remove removes a user. What they did stays in the casebook under their name.`,
		Example: `  whystone user remove ben`,
		Args:    oneName,
		RunE: a.register(func(ctx context.Context, r *registering, args []string) error {
			if err := r.Remove(ctx, r.by, args[0]); err != nil {
				return err
			}
			return r.done(args[0], "is removed", "")
		}),
	}
}

func (a *app) userList() *cobra.Command {
	return &cobra.Command{
		Use:   "list",
		Short: "List the users",
		Args:  cobra.NoArgs,
		RunE: a.register(func(ctx context.Context, r *registering, _ []string) error {
			all, err := r.Users(ctx)
			if err != nil {
				return err
			}
			return tellEach(r.session, english.Each(all, users.Listed), func() {
				rows := english.Each(all, func(u users.User) []string {
					since := "since " + u.Added.UTC().Format(time.DateOnly)
					if u.Once {
						since = "has not chosen a password yet"
					}
					return []string{u.Name, string(u.Role), since}
				})
				r.out.Table([]int{24, 15, 0}, []string{"User", "Role", ""}, rows)
			})
		}),
	}
}

func (a *app) userAudit() *cobra.Command {
	var most int
	cmd := &cobra.Command{
		Use:   "audit",
		Short: "List what was done to users, and who signed in",
		Args:  cobra.NoArgs,
		RunE: a.register(func(ctx context.Context, r *registering, _ []string) error {
			all, err := r.Audit(ctx, most)
			if err != nil {
				return err
			}
			return tellEach(r.session, all, func() {
				for _, e := range all {
					says := terminal.Moment(e.At) + "  " + e.By + ": " + e.Did
					r.out.Text(terminal.Plain, 0, terminal.Joined(", ", says, e.Whom, e.More))
				}
			})
		}),
	}
	mostFlag(cmd, &most)
	return cmd
}
