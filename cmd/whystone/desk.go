package main

import (
	"cmp"
	"context"
	"crypto/rand"
	"log/slog"
	"strings"

	"github.com/spf13/cobra"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/desk"
	"whystone/cmd/whystone/terminal"
)

// defaultAddress is where the desk listens: on this machine alone.
const defaultAddress = "127.0.0.1:7411"

// opening is what the flags of desk say.
type opening struct {
	desk.Listening
	house, user string
}

func (a *app) desk() *cobra.Command {
	var o opening
	cmd := &cobra.Command{
		Use:   "desk",
		Short: "Open the desk: pages on which staff take in stones",
		Long: `Desk serves the pages on which staff work: cases, readings, verdicts, what to test
next, and why. It follows the ruleset's files and the casebook, and so do open
pages.

The first run sets up the house in the folder of the casebook, with its first
user, and prints the word for their first sign-in. The desk listens on this
machine alone; it refuses to be reached from others without TLS, unless
something before it does that and --in-clear says so.`,
		Example: `  whystone desk
  whystone desk --house "Harrow Quay Saleroom" --user anna
  whystone desk --listen 0.0.0.0:7411 --host desk.example \
    --tls-cert desk.pem --tls-key desk.key`,
		Args: cobra.NoArgs,
		RunE: a.does(func(s *session, cmd *cobra.Command, _ []string) error { return s.openDesk(cmd.Context(), o) }),
	}
	f := cmd.Flags()
	f.StringVar(&o.Address, "listen", defaultAddress, "listen at `HOST:PORT`")
	f.StringSliceVar(&o.Hosts, "host", nil, "a `name` by which the desk is asked for; may be repeated")
	f.StringVar(&o.Cert, "tls-cert", "", "certificate `file`")
	f.StringVar(&o.Key, "tls-key", "", "key `file` of the certificate")
	f.BoolVar(&o.InClear, "in-clear", false, "be reached from other machines without TLS")
	f.StringVar(&o.house, "house", "The house", "the house's `name`, at the first run")
	f.StringVar(&o.user, "user", "", "the first user's `name`, at the first run (default: your user name)")
	return cmd
}

func (s *session) openDesk(ctx context.Context, o opening) (err error) {
	if err := o.Check(); err != nil {
		return usageError("%s", err)
	}
	k, err := s.openBook(ctx, true)
	if err != nil {
		return err
	}
	defer func() { _ = k.store.Close() }() // all that was written is on the disk
	reg, err := s.openUsers(ctx, true)
	if err != nil {
		return err
	}
	defer func() { _ = reg.store.Close() }()
	house, err := s.setUp(ctx, reg, o)
	if err != nil {
		return userError(err)
	}
	log := slog.New(slog.NewTextHandler(s.stderr, nil))
	if layers, err := s.layers(); err == nil {
		s.tellLinks(layers)
	}
	ctx, cancel := context.WithCancel(ctx)
	d, found := desk.Open(ctx, desk.Options{Users: reg.Register, House: house, Program: programVersion(), Now: s.now,
		Hosts: o.Names(), Secure: o.Cert != "", Log: log,
		Rules: desk.Rules{Layers: s.layers, Folders: s.config.Layers},
		Book:  &casebook.Book{Store: k.store, Now: s.now, Random: rand.Reader, Verified: true}})
	if d == nil {
		cancel()
		return s.noRuleset(found)
	}
	defer func() {
		cancel() // first, so that nobody waits to be heard
		_ = d.Close()
	}()
	if err := o.Serve(ctx, d, log, func(url string) { err = s.listens(url) }); err != nil {
		return usageError("the desk can't be opened: %s", err)
	}
	return err
}

// setUp names the house and adds its first user, at the first run.
func (s *session) setUp(ctx context.Context, reg *usersFile, o opening) (house string, err error) {
	if house, err = reg.House(ctx); err != nil || house != "" {
		return house, err
	}
	name := cmp.Or(o.user, s.me())
	word, err := reg.SetUp(ctx, o.house, name)
	if err != nil {
		return "", err
	}
	return o.house, s.tell(struct {
		Format int    `json:"format"`
		House  string `json:"house"`
		Folder string `json:"folder"`
		User   string `json:"user"`
		Word   string `json:"word"`
	}{1, o.house, s.config.Book, strings.ToLower(name), word}, func() {
		s.out.Text(terminal.Plain, 0, o.house+" is set up in "+s.config.Book+". The first user is "+
			strings.ToLower(name)+", an administrator. The word for the first sign-in, good once and for seven days:")
		s.out.Text(terminal.Bold, 4, word)
		s.out.Blank()
	})
}

// listens tells where the desk is.
func (s *session) listens(url string) error {
	return s.tell(struct {
		Format int    `json:"format"`
		At     string `json:"at"`
	}{1, url}, func() {
		s.out.Text(terminal.Plain, 0, "The desk is open at "+url+" until this program is ended (Ctrl+C).")
	})
}
