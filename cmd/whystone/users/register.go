package users

import (
	"context"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"whystone/kb/diag"
	"whystone/kb/english"
)

// Register is who may do what. It is the only way to write to a store.
type Register struct {
	store  Store
	now    func() time.Time
	random io.Reader
	hasher *hasher
	tries  throttle
}

// New makes a register.
func New(store Store, now func() time.Time, random io.Reader, cost Cost) *Register {
	return &Register{store: store, now: now, random: random, hasher: newHasher(cost)}
}

// Refused says why something is not done.
type Refused struct{ Says string }

func (e *Refused) Error() string { return e.Says }

func refuse(format string, args ...any) error { return &Refused{fmt.Sprintf(format, args...)} }

// goodFor is how long a word for one sign-in may be used.
const goodFor = 7 * 24 * time.Hour

var nameShape = regexp.MustCompile(`^[\pL\pN][\pL\pN ._'-]{0,39}$`)

// Fold is the form in which a name is kept and compared.
func Fold(name string) string { return strings.ToLower(strings.Join(strings.Fields(name), " ")) }

// SetUp names the house and adds its first user, who is an administrator. The word is for their first sign-in.
func (r *Register) SetUp(ctx context.Context, house, name string) (word string, err error) {
	if house = strings.TrimSpace(house); house == "" || utf8.RuneCountInString(house) > 80 {
		return "", refuse("a house has a name of up to 80 letters")
	}
	return r.give(ctx, Fold(name), func(tx Tx, u User, e Entry) error {
		all, err := tx.Users()
		if err != nil {
			return err
		}
		if len(all) > 0 {
			return refuse("the house is set up already")
		}
		u.Role, u.Added = Administrator, r.now()
		e.By, e.Did, e.More = u.Name, "house set up", house
		return tx.Put(Change{House: &house, Users: []User{u}, Audit: []Entry{e}})
	})
}

// Add adds a user. The word is for their first sign-in.
func (r *Register) Add(ctx context.Context, by, name string, role Role) (word string, err error) {
	return r.give(ctx, Fold(name), func(tx Tx, u User, e Entry) error {
		old, err := tx.User(u.Name)
		if err != nil {
			return err
		}
		if old != nil {
			return refuse("there is a user %s already", u.Name)
		}
		u.Role, u.Added = role, r.now()
		e.By, e.Did, e.More = by, "user added", string(role)
		return tx.Put(Change{Users: []User{u}, Audit: []Entry{e}})
	})
}

// Reset takes a user's password away, and ends their sessions. The word is for the next sign-in.
func (r *Register) Reset(ctx context.Context, by, name string) (word string, err error) {
	return r.give(ctx, Fold(name), func(tx Tx, u User, e Entry) error {
		old, err := known(tx, u.Name)
		if err != nil {
			return err
		}
		u.Role, u.Added = old.Role, old.Added
		e.By, e.Did = by, "password reset"
		return tx.Put(Change{Users: []User{u}, EndOf: []string{u.Name}, Audit: []Entry{e}})
	})
}

// give makes a word for one sign-in, and writes it with what else changes.
func (r *Register) give(ctx context.Context, name string, do func(Tx, User, Entry) error) (word string, err error) {
	if !nameShape.MatchString(name) {
		return "", refuse("%q is no name for a user: letters, digits, spaces and . _ ' - are, up to 40", name)
	}
	if word, err = newWord(r.random); err != nil {
		return "", err
	}
	hash, err := r.hasher.hash(ctx, word, r.random)
	if err != nil {
		return "", err
	}
	u := User{Name: name, Hash: hash, Once: true, Until: r.now().Add(goodFor)}
	if err := r.store.Write(ctx, func(tx Tx) error { return do(tx, u, Entry{At: r.now(), Whom: name}) }); err != nil {
		return "", err
	}
	return word, nil
}

// SetRole gives a user another role.
func (r *Register) SetRole(ctx context.Context, by, name string, role Role) error {
	return r.store.Write(ctx, func(tx Tx) error {
		u, err := known(tx, Fold(name))
		if err != nil {
			return err
		}
		if role != Administrator {
			if err := another(tx, u); err != nil {
				return err
			}
		}
		e := Entry{At: r.now(), By: by, Did: "role changed", Whom: u.Name, More: string(u.Role) + " to " + string(role)}
		u.Role = role
		return tx.Put(Change{Users: []User{*u}, Audit: []Entry{e}})
	})
}

// Remove removes a user, and ends their sessions. What they did stays under their name.
func (r *Register) Remove(ctx context.Context, by, name string) error {
	return r.store.Write(ctx, func(tx Tx) error {
		u, err := known(tx, Fold(name))
		if err != nil {
			return err
		}
		if err := another(tx, u); err != nil {
			return err
		}
		return tx.Put(Change{Remove: []string{u.Name}, Audit: []Entry{{At: r.now(), By: by, Did: "user removed",
			Whom: u.Name}}})
	})
}

// another refuses what would leave the house without an administrator.
func another(v View, u *User) error {
	all, err := v.Users()
	if err != nil {
		return err
	}
	if u.Role == Administrator && !slices.ContainsFunc(all, func(o User) bool {
		return o.Role == Administrator &&
			o.Name != u.Name
	}) {
		return refuse("%s is the only administrator; make somebody else one first", u.Name)
	}
	return nil
}

func known(v View, name string) (*User, error) {
	u, err := v.User(name)
	if err != nil || u != nil {
		return u, err
	}
	all, err := v.Users()
	if err != nil {
		return nil, err
	}
	near := diag.Nearest(name, english.Each(all, func(o User) string { return o.Name }))
	return nil, &Refused{fmt.Sprintf("there is no user %q", name) + diag.Meant(near)}
}

// Enter enters in the audit what was done elsewhere that it has to have.
func (r *Register) Enter(ctx context.Context, by, did, more string) error {
	return r.store.Write(ctx, func(tx Tx) error {
		return tx.Put(Change{Audit: []Entry{{At: r.now(), By: by, Did: did, More: more}}})
	})
}

// House is the house's name; empty when it was not set up.
func (r *Register) House(ctx context.Context) (house string, err error) {
	err = r.store.Read(ctx, func(v View) error { house, err = v.House(); return err })
	return house, err
}

// Users are all users, sorted by name.
func (r *Register) Users(ctx context.Context) (all []User, err error) {
	err = r.store.Read(ctx, func(v View) error { all, err = v.Users(); return err })
	return all, err
}

// Audit is what was entered last, the newest first.
func (r *Register) Audit(ctx context.Context, most int) (all []Entry, err error) {
	err = r.store.Read(ctx, func(v View) error { all, err = v.Audit(most); return err })
	return all, err
}
