package desk

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"runtime/debug"
	"strings"

	"whystone/cmd/whystone/users"
	"whystone/kb/diag"
)

// asked is a request by somebody who may make it.
type asked struct {
	*http.Request
	desk   *Desk
	who    *users.Somebody // nil where nobody is signed in
	header http.Header     // of the answer
	w      http.ResponseWriter
}

// handler answers a request. Where both results are nil it has written the answer itself.
type handler func(*asked) (*page, error)

// problem is an answer that something is not done.
type problem struct {
	Status int
	Says   string
	More   []string
	list   diag.List // what was found, of which More has the words
}

func (e *problem) Error() string { return e.Says }

func wrong(format string, args ...any) error {
	return &problem{Status: http.StatusUnprocessableEntity, Says: fmt.Sprintf(format, args...)}
}

// cookie is the name of what a browser holds of a session.
const cookie = "whystone"

// serve answers the requests of a route.
func (d *Desk) serve(rt route) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r.Body = http.MaxBytesReader(w, r.Body, bodyOf(rt))
		a := &asked{Request: r, desk: d, header: w.Header(), w: w}
		defer a.sweep()
		defer func() {
			//nolint:errorlint // it is compared as net/http does
			if x := recover(); x != nil && x != http.ErrAbortHandler {
				d.Log.Error("internal fault", "path", r.URL.Path, "fault", fmt.Sprint(x), "stack",
					string(debug.Stack()))
				d.answer(a, nil, errFault)
			}
		}()
		p, err := a.allowed(rt)
		if p == nil && err == nil {
			err = a.form()
		}
		if p == nil && err == nil {
			if p, err = rt.Do(a); p == nil && err == nil {
				return
			}
		}
		d.answer(a, p, err)
	})
}

var errFault = &problem{Status: http.StatusInternalServerError,
	Says: "Something is wrong in the program, not in what you did. What was entered before is kept."}

// allowed sees to it that who asks may. Where they must sign in or choose a password first, the page goes there.
func (a *asked) allowed(rt route) (*page, error) {
	if c, err := a.Cookie(cookie); err == nil {
		who, err := a.desk.Users.Who(a.Context(), c.Value, a.Header.Get(partHeader) == "")
		if err != nil {
			return nil, err
		}
		a.who = who
	}
	switch {
	case rt.May == users.Anyone:
		return nil, nil
	case a.who == nil && a.Method == http.MethodGet && !a.wantsJSON() && a.Header.Get(partHeader) == "":
		return &page{To: "/sign-in?to=" + url.QueryEscape(a.URL.RequestURI())}, nil
	case a.who == nil:
		return nil, &problem{Status: http.StatusUnauthorized,
			Says: "You are not signed in any more. Sign in in another window, then send this again: nothing of it " +
				"was kept."}
	case a.who.Choose && rt.May != users.SignedIn:
		return &page{To: "/password"}, nil
	case !a.who.Role.May(rt.May):
		return nil, &problem{Status: http.StatusForbidden, Says: fmt.Sprintf("Your role, %s, does not let you %s.",
			a.who.Role, rt.May),
			More: []string{"An administrator of the house can give you another."}}
	}
	return nil, nil
}

// partHeader is sent by the desk's own script, which takes parts of pages.
const partHeader = "Whystone-Part"

func (a *asked) wantsJSON() bool { return strings.Contains(a.Header.Get("Accept"), "application/json") }

// inMemory is how much of the files that a form sends is held in memory while it is read.
const inMemory = 8 << 20

// form reads what a form sent, which may be files.
func (a *asked) form() error {
	if a.Method != http.MethodPost {
		return nil
	}
	err := a.ParseForm()
	if err == nil {
		err = a.ParseMultipartForm(inMemory)
	}
	var tooLarge *http.MaxBytesError
	switch {
	case errors.Is(err, http.ErrNotMultipart):
		return nil
	case err == nil || errors.As(err, &tooLarge):
		return err
	}
	return wrong("The form can't be read.")
}

// sweep removes what reading a form's files left on the disk.
func (a *asked) sweep() {
	if a.MultipartForm != nil {
		_ = a.MultipartForm.RemoveAll() // they lie among temporary files
	}
}

// answer writes a page, or why there is none.
func (d *Desk) answer(a *asked, p *page, err error) {
	var refused *users.Refused
	var tooLarge *http.MaxBytesError
	var bad *problem
	switch {
	case err == nil:
	case errors.As(err, &bad):
	case errors.As(err, &refused):
		bad = &problem{Status: http.StatusUnprocessableEntity, Says: refused.Says}
	case errors.As(err, &tooLarge):
		bad = &problem{Status: http.StatusRequestEntityTooLarge,
			Says: "That is more than the desk takes at once. Nothing was kept."}
	case a.Context().Err() != nil:
		return // nobody waits any more
	default:
		d.Log.Error("not answered", "path", a.URL.Path, "error", err)
		bad = errFault
	}
	if bad != nil {
		p = &page{Template: "problem", Title: http.StatusText(bad.Status), Status: bad.Status, View: bad, Data: struct {
			Format int    `json:"format"`
			Error  string `json:"error"`
		}{1, bad.Says}}
	}
	a.show(p)
}
