package desk

import (
	"context"
	"log/slog"
	"net/http"
	"time"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/users"
)

// Options are what a desk stands on.
type Options struct {
	Users  *users.Register
	Book   *casebook.Book // by which what is done is done by whom it says
	House  string
	Now    func() time.Time
	Hosts  []string // the names by which it may be asked for, besides those of this machine itself
	Secure bool     // it is asked for by TLS
	Log    *slog.Logger
}

// Desk is the web pages.
type Desk struct {
	Options
	mux http.Handler
}

// New makes a desk.
func New(o Options) *Desk {
	d := &Desk{Options: o}
	if d.Log == nil {
		d.Log = slog.New(slog.DiscardHandler)
	}
	mux := http.NewServeMux()
	for _, r := range routes {
		mux.Handle(r.Method+" "+r.Pattern, d.serve(r))
	}
	mux.Handle("GET /static/{name}", http.HandlerFunc(static))
	mux.Handle("/", d.serve(route{May: users.SignedIn, Do: nothingThere}))
	d.mux = mux
	return d
}

// ServeHTTP implements http.Handler.
func (d *Desk) ServeHTTP(w http.ResponseWriter, r *http.Request) { d.guarded().ServeHTTP(w, r) }

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
