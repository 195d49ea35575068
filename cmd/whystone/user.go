package main

import (
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"time"

	"github.com/spf13/cobra"

	"whystone/cmd/whystone/terminal"
	"whystone/cmd/whystone/users"
	"whystone/cmd/whystone/users/sqlite"
)

func (a *app) user() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "user",
		Short: "Say who may sign in at the desk, and as what",
		Long: `The desk's users stand beside the casebook, in the same folder. Whoever may write
to that folder may change them: this is how a password is reset that nobody
knows any more. A user who is added or reset gets a word for one sign-in.

Roles: staff take in stones; an author and quality replay the archive, and
quality records what a stone turned out to be; an administrator may do all, and
manages users.`,
		Args: a.knownCommand,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(a.userAdd(), a.userList(), a.userReset(), a.userRole(), a.userRemove(), a.userAudit())
	return cmd
}

// registering is a command at work on the users.
type registering struct {
	*session
	*users.Register
	by string
}

// register opens the users for a command, and closes them afterwards.
func (a *app) register(cmd *cobra.Command, do func(*registering) error) (err error) {
	s, err := a.begin(cmd)
	if err != nil {
		return err
	}
	reg, err := s.openUsers(cmd.Context(), false)
	if err != nil {
		return err
	}
	defer func() {
		if e := reg.store.Close(); e != nil && err == nil {
			err = e
		}
	}()
	return userError(do(&registering{session: s, Register: reg.Register,
		by: "the command line, as " + cmp.Or(a.me(), "somebody")}))
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
		return nil, &ended{status: unusable, says: "there are no users in " + s.config.Book +
			"; whystone desk makes the first"}
	}
	if err != nil {
		return nil, &ended{status: unusable, says: err.Error()}
	}
	return &usersFile{users.New(store, s.now, rand.Reader, users.Usual), store}, nil
}

func userError(err error) error {
	var refused *users.Refused
	if errors.As(err, &refused) {
		return &ended{status: unusable, says: refused.Says}
	}
	return err
}

// word tells the word for one sign-in.
func (r *registering) word(name, did, word string) error {
	if r.json() {
		return r.print(struct {
			Format int    `json:"format"`
			User   string `json:"user"`
			Did    string `json:"did"`
			Word   string `json:"word"`
		}{1, users.Fold(name), did, word})
	}
	r.out.Text(terminal.Plain, 0, users.Fold(name)+" "+did+". The word for one sign-in, good for seven days:")
	r.out.Text(terminal.Bold, 4, word)
	return write(r.out)
}

func (r *registering) done(name, did string) error {
	if r.json() {
		return r.print(struct {
			Format int    `json:"format"`
			User   string `json:"user"`
			Did    string `json:"did"`
		}{1, users.Fold(name), did})
	}
	r.out.Text(terminal.Plain, 0, users.Fold(name)+" "+did+".")
	return write(r.out)
}

func oneName(cmd *cobra.Command, args []string) error {
	if len(args) != 1 {
		return usageError("%s needs one user's name, in quotes if it has a space", cmd.CommandPath())
	}
	return nil
}

func (a *app) userAdd() *cobra.Command {
	var role string
	cmd := &cobra.Command{
		Use:     "add NAME",
		Short:   "Add a user",
		Example: `  whystone user add ben --role staff`,
		Args:    oneName,
		RunE: func(cmd *cobra.Command, args []string) error {
			is, err := users.ParseRole(role)
			if err != nil {
				return userError(err)
			}
			return a.register(cmd, func(r *registering) error {
				word, err := r.Add(cmd.Context(), r.by, args[0], is)
				if err != nil {
					return err
				}
				return r.word(args[0], "is added as "+string(is), word)
			})
		},
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
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.register(cmd, func(r *registering) error {
				word, err := r.Reset(cmd.Context(), r.by, args[0])
				if err != nil {
					return err
				}
				return r.word(args[0], "has no password any more", word)
			})
		},
	}
}

func (a *app) userRole() *cobra.Command {
	return &cobra.Command{
		Use:     "role NAME ROLE",
		Short:   "Give a user another role",
		Example: `  whystone user role ben author`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 2 {
				return usageError("%s needs a user's name and a role", cmd.CommandPath())
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			role, err := users.ParseRole(args[1])
			if err != nil {
				return userError(err)
			}
			return a.register(cmd, func(r *registering) error {
				if err := r.SetRole(cmd.Context(), r.by, args[0], role); err != nil {
					return err
				}
				return r.done(args[0], "is "+string(role)+" now")
			})
		},
	}
}

func (a *app) userRemove() *cobra.Command {
	return &cobra.Command{
		Use:     "remove NAME",
		Short:   "Remove a user, and end their sessions",
		Long:    `Remove removes a user. What they did stays in the casebook under their name.`,
		Example: `  whystone user remove ben`,
		Args:    oneName,
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.register(cmd, func(r *registering) error {
				if err := r.Remove(cmd.Context(), r.by, args[0]); err != nil {
					return err
				}
				return r.done(args[0], "is removed")
			})
		},
	}
}

func (a *app) userList() *cobra.Command {
	return &cobra.Command{
		Use:   "list",
		Short: "List the users",
		Args:  cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return a.register(cmd, func(r *registering) error {
				all, err := r.Users(cmd.Context())
				if err != nil {
					return err
				}
				rows := [][]string{}
				for _, u := range all {
					if r.json() {
						if err := r.print(users.Listed(u)); err != nil {
							return err
						}
						continue
					}
					since := "since " + u.Added.UTC().Format(time.DateOnly)
					if u.Once {
						since = "has not chosen a password yet"
					}
					rows = append(rows, []string{u.Name, string(u.Role), since})
				}
				if r.json() {
					return nil
				}
				r.out.Table([]int{24, 15, 0}, []string{"User", "Role", ""}, rows)
				return write(r.out)
			})
		},
	}
}

func (a *app) userAudit() *cobra.Command {
	var most int
	cmd := &cobra.Command{
		Use:   "audit",
		Short: "List what was done to users, and who signed in",
		Args:  cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return a.register(cmd, func(r *registering) error {
				all, err := r.Audit(cmd.Context(), most)
				if err != nil {
					return err
				}
				for _, e := range all {
					if r.json() {
						if err := r.print(e); err != nil {
							return err
						}
						continue
					}
					says := fmt.Sprintf("%s  %s: %s", terminal.Moment(e.At), e.By, e.Did)
					for _, more := range []string{e.Whom, e.More} {
						if more != "" {
							says += ", " + more
						}
					}
					r.out.Text(terminal.Plain, 0, says)
				}
				return write(r.out)
			})
		},
	}
	mostFlag(cmd, &most)
	return cmd
}
