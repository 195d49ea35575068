package users

import (
	"fmt"
	"slices"
	"strings"

	"whystone/kb/diag"
	"whystone/kb/english"
)

// Role is what somebody is in the house.
type Role string

// The roles.
const (
	Staff         Role = "staff"
	Author        Role = "author"
	Quality       Role = "quality"
	Administrator Role = "administrator"
)

// Roles are all of them.
var Roles = []Role{Staff, Author, Quality, Administrator}

// Action is something that not everybody may do.
type Action string

// The actions. Anyone is what needs no sign-in; SignedIn needs it, and no more: to set one's own password, say.
const (
	Anyone   Action = ""
	SignedIn Action = "be signed in"
	Look     Action = "look at cases, sheets and rules"
	Enter    Action = "take in stones, enter readings and issue verdicts"
	Truth    Action = "record what a stone turned out to be"
	Replay   Action = "judge the archive again"
	Erase    Action = "erase what is held of a customer"
	Manage   Action = "manage users and read the audit"
)

// may is the one table of who may do what.
var may = map[Action][]Role{
	SignedIn: Roles,
	Look:     Roles,
	Enter:    Roles,
	Truth:    {Quality, Administrator},
	Replay:   {Author, Quality, Administrator},
	Erase:    {Administrator},
	Manage:   {Administrator},
}

// Actions are those of the table, in its order.
func Actions() []Action { return []Action{Look, Enter, Truth, Replay, Erase, Manage} }

// May tells whether a role allows an action.
func (r Role) May(a Action) bool { return a == Anyone || slices.Contains(may[a], r) }

// ParseRole reads a role.
func ParseRole(word string) (Role, error) {
	if r := Role(strings.ToLower(strings.TrimSpace(word))); slices.Contains(Roles, r) {
		return r, nil
	}
	words := english.Each(Roles, func(r Role) string { return string(r) })
	says := fmt.Sprintf("there is no role %q; a user is %s", word, english.List(words, "or"))
	return "", &Refused{says + diag.Meant(diag.Nearest(word, words))}
}
