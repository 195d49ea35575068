package desk

import (
	"errors"
	"fmt"
	"net/http"
	"strings"

	"whystone/cmd/whystone/users"
)

// signing is what the sign-in page shows.
type signing struct{ Name, To, Says string }

// local is a path of this desk, where that is what was given.
func local(to string) string {
	if !strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") || strings.ContainsAny(to, "\\\r\n\t") {
		return "/"
	}
	return to
}

func showSignIn(a *asked) (*page, error) {
	to := local(a.URL.Query().Get("to"))
	if a.who != nil {
		return &page{To: to}, nil
	}
	return signInPage(&signing{To: to}, 0), nil
}

func signInPage(s *signing, status int) *page {
	return &page{Template: "sign-in", Title: "Sign in", View: s, Status: status}
}

func signIn(a *asked) (*page, error) {
	s := &signing{Name: a.PostForm.Get("name"), To: local(a.PostForm.Get("to"))}
	token, err := a.desk.Users.SignIn(a.Context(), s.Name, a.PostForm.Get("password"), place(a.Request))
	var tooMany *users.TooMany
	switch {
	case errors.As(err, &tooMany):
		s.Says = "Too many sign-ins failed. Try again in " + wait(int(tooMany.Wait.Seconds())+1) + "."
		a.header.Set("Retry-After", fmt.Sprint(int(tooMany.Wait.Seconds())+1))
		return signInPage(s, http.StatusTooManyRequests), nil
	case errors.Is(err, users.ErrSignIn):
		s.Says = err.Error()
		return signInPage(s, http.StatusUnauthorized), nil
	case err != nil:
		return nil, err
	}
	a.setCookie(token, int(users.LastsAtMost.Seconds()))
	return &page{To: s.To}, nil
}

func wait(seconds int) string {
	if seconds < 100 {
		return fmt.Sprintf("%d seconds", seconds)
	}
	return fmt.Sprintf("%d minutes", (seconds+59)/60)
}

func (a *asked) setCookie(token string, age int) {
	http.SetCookie(a.w, &http.Cookie{Name: cookie, Value: token, Path: "/", MaxAge: age, HttpOnly: true,
		Secure: a.desk.Secure, SameSite: http.SameSiteLaxMode})
}

func signOut(a *asked) (*page, error) {
	if err := a.desk.Users.SignOut(a.Context(), a.who); err != nil {
		return nil, err
	}
	a.setCookie("", -1)
	return &page{To: "/sign-in"}, nil
}

// choosing is what the page to choose a password shows.
type choosing struct {
	Name  string
	First bool // they came by a word for one sign-in
	Least int
	Says  string
}

func showPassword(a *asked) (*page, error) { return passwordPage(a, "", 0), nil }

func passwordPage(a *asked, says string, status int) *page {
	return &page{Template: "password", Title: "Choose a password",
		View: &choosing{a.who.Name, a.who.Choose, users.ShortestPassword, says}, Status: status}
}

func choosePassword(a *asked) (*page, error) {
	err := a.desk.Users.Choose(a.Context(), a.who, a.PostForm.Get("old"), a.PostForm.Get("password"))
	if refused, ok := errors.AsType[*users.Refused](err); ok {
		return passwordPage(a, refused.Says, http.StatusUnprocessableEntity), nil
	}
	return &page{To: "/"}, err
}
