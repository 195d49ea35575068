package desk

import (
	"whystone/cmd/whystone/users"
	"whystone/kb/english"
)

// peopleRoutes are for who manages the house's users.
var peopleRoutes = []route{
	{"GET", "/users", users.Manage, listUsers, "Users"},
	{"POST", "/users", users.Manage, addUser, ""},
	{"POST", "/users/{name}/reset", users.Manage, resetUser, ""},
	{"POST", "/users/{name}/role", users.Manage, setRole, ""},
	{"POST", "/users/{name}/remove", users.Manage, removeUser, ""},
	{"GET", "/audit", users.Manage, showAudit, "Audit"},
}

// auditMost is how many lines of the audit a page shows.
const auditMost = 200

// userList is what the page of users shows.
type userList struct {
	Users   []users.Listing
	Roles   []users.Role
	Actions []users.Action
	Me      string
	// Whom somebody was just given a word for one sign-in; it is shown once and kept nowhere.
	Whom, Word string
}

func listUsers(a *asked) (*page, error) { return usersPage(a, "", "") }

func usersPage(a *asked, whom, word string) (*page, error) {
	all, err := a.desk.Users.Users(a.Context())
	if err != nil {
		return nil, err
	}
	v := &userList{Users: append([]users.Listing{}, english.Each(all, users.Listed)...), Roles: users.Roles,
		Actions: users.Actions(), Me: a.who.Name, Whom: whom, Word: word}
	return &page{Template: "users", Title: "Users", View: v, Data: v.Users}, nil
}

func addUser(a *asked) (*page, error) {
	role, err := users.ParseRole(a.PostForm.Get("role"))
	if err != nil {
		return nil, err
	}
	name := a.PostForm.Get("name")
	word, err := a.desk.Users.Add(a.Context(), a.who.Name, name, role)
	if err != nil {
		return nil, err
	}
	return usersPage(a, users.Fold(name), word)
}

func resetUser(a *asked) (*page, error) {
	name := a.PathValue("name")
	word, err := a.desk.Users.Reset(a.Context(), a.who.Name, name)
	if err != nil {
		return nil, err
	}
	return usersPage(a, name, word)
}

func setRole(a *asked) (*page, error) {
	role, err := users.ParseRole(a.PostForm.Get("role"))
	if err != nil {
		return nil, err
	}
	return &page{To: "/users"}, a.desk.Users.SetRole(a.Context(), a.who.Name, a.PathValue("name"), role)
}

func removeUser(a *asked) (*page, error) {
	if a.PostForm.Get("sure") == "" {
		return nil, wrong("Tick that you are sure: %s could not sign in any more.", a.PathValue("name"))
	}
	return &page{To: "/users"}, a.desk.Users.Remove(a.Context(), a.who.Name, a.PathValue("name"))
}

func showAudit(a *asked) (*page, error) {
	all, err := a.desk.Users.Audit(a.Context(), auditMost)
	if err != nil {
		return nil, err
	}
	if all == nil {
		all = []users.Entry{}
	}
	return &page{Template: "audit", Title: "Audit", View: all, Data: all}, nil
}
