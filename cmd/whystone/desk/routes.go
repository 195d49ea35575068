package desk

import (
	"slices"

	"whystone/cmd/whystone/users"
)

// route is one line of the route table.
type route struct {
	Method  string
	Pattern string       // as of http.ServeMux
	May     users.Action // what who asks must be allowed to do
	Do      handler
	Menu    string // the words in the menu, of a page that stands there
}

// of is a handler of what is about one case, which is found before.
func of(find func(*asked) (*kept, error), do func(*asked, *kept) (*page, error)) handler {
	return func(a *asked) (*page, error) {
		k, err := find(a)
		if err != nil {
			return nil, err
		}
		return do(a, k)
	}
}

// routes is the table of all there is to ask for, in the order of the menu.
var routes []route

func init() { // the handlers look at the menu, which is made of the table
	routes = slices.Concat(houseRoutes, casesRoutes, caseRoutes, enterRoutes, whyRoutes, whatIfRoutes, reportRoutes,
		pictureRoutes, photographRoutes, eraseRoutes, sheetRoutes, replayRoutes, peopleRoutes, liveRoutes)
}

// houseRoutes are about the house and who is signed in.
var houseRoutes = []route{
	{"GET", "/health", users.Anyone, health, ""},
	{"GET", "/sign-in", users.Anyone, showSignIn, ""},
	{"POST", "/sign-in", users.Anyone, signIn, ""},
	{"POST", "/sign-out", users.SignedIn, signOut, ""},
	{"GET", "/password", users.SignedIn, showPassword, ""},
	{"POST", "/password", users.SignedIn, choosePassword, ""},
}
