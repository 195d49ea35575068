package desk

import (
	"context"
	"log/slog"
	"net/http"
	"sync"
	"time"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/users"
	"whystone/kb/diag"
	"whystone/kb/reload"
)

// Options are what a desk stands on.
type Options struct {
	Users   *users.Register
	Book    *casebook.Book // by which what is done is done by whom it says
	Rules   Rules
	House   string
	Program string // which program it is, as issued verdicts have it
	Now     func() time.Time
	Hosts   []string // the names by which it may be asked for, besides those of this machine itself
	Secure  bool     // it is asked for by TLS
	Log     *slog.Logger
}

// Desk is the web pages.
type Desk struct {
	Options
	handler   http.Handler
	live      *reload.Live[*bench]
	past      lately[snapshot] // that went before
	hub       hub
	wrote     chan struct{}
	heartbeat time.Duration
	replays   lately[replaying]
	work      sync.WaitGroup        // of the replay that is at work
	cleaning  sync.Mutex            // of photographs, which take much memory
	lasts     context.Context       //nolint:containedctx // ends with the desk: a replay goes on when its page is left
	onReplay  func(context.Context) // a test's: called whenever a replay comes on
}

// Open makes a desk that follows the ruleset and the casebook until the context ends. Where the ruleset can't be loaded
// there is none, and the list says why.
func Open(ctx context.Context, o Options) (*Desk, diag.List) {
	d := &Desk{Options: o, wrote: make(chan struct{}, 1), heartbeat: heartbeat, lasts: ctx}
	if d.Log == nil {
		d.Log = slog.New(slog.DiscardHandler)
	}
	live, found := reload.Start(ctx, d.followOptions())
	if live == nil {
		return nil, found
	}
	d.live = live
	go d.watchBook(ctx)
	mux := http.NewServeMux()
	for _, r := range routes {
		mux.Handle(r.Method+" "+r.Pattern, d.serve(r))
	}
	mux.Handle("GET /static/{name}", http.HandlerFunc(static))
	mux.Handle("/", d.serve(route{May: users.SignedIn, Do: nothingThere}))
	d.handler = d.guarded(mux)
	return d, nil
}

// Close ends the following of files, and waits for a replay that is at work; end the context first, so that it ends.
func (d *Desk) Close() error {
	d.work.Wait()
	return d.live.Close()
}

// ServeHTTP implements http.Handler.
func (d *Desk) ServeHTTP(w http.ResponseWriter, r *http.Request) { d.handler.ServeHTTP(w, r) }

// now is the ruleset of now.
func (d *Desk) now() *snapshot { return d.live.Current() }

// health says that the desk is there and can read its casebook.
func health(a *asked) (*page, error) {
	ctx, cancel := context.WithTimeout(a.Context(), 5*time.Second)
	defer cancel()
	err := a.desk.Book.Read(ctx, func(v casebook.View) error {
		_, err := v.Head()
		return err
	})
	if err != nil {
		a.desk.Log.Error("the casebook can't be read", "error", err)
		return nil, &problem{Status: http.StatusServiceUnavailable, Says: "The casebook can't be read."}
	}
	return &page{Data: struct {
		Format int    `json:"format"`
		Status string `json:"status"`
	}{1, "ok"}}, nil
}

func nothingThere(*asked) (*page, error) {
	return nil, &problem{Status: http.StatusNotFound, Says: "There is no such page."}
}
