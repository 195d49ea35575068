package users

import (
	"cmp"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"strings"
	"time"
	"unicode/utf8"
)

// How long a session lasts: a working day, and not so long that nobody sat there.
const (
	LastsAtMost = 12 * time.Hour
	LastsIdle   = 2 * time.Hour
	noted       = time.Minute // how exactly it is noted when it was heard of last
)

// The bounds of a password. Its length is what makes it hard to guess; nothing else is asked of it.
const (
	ShortestPassword = 12 // letters
	longestPassword  = 500
)

// TooMany says that too many passwords were tried.
type TooMany struct{ Wait time.Duration }

func (e *TooMany) Error() string {
	return "too many sign-ins failed; try again in " + e.Wait.Round(time.Second).String()
}

// ErrSignIn is all that is told of a sign-in that failed: not whether it was the name or the password.
var ErrSignIn error = &Refused{"That name and password don't fit."}

// Somebody is who is signed in.
type Somebody struct {
	Name   string
	Role   Role
	Choose bool   // they signed in by a word for one sign-in, and choose a password now
	Key    string // of the session
}

// SignIn begins a session for who gives a user's password, or their word for one sign-in. from is where it is tried
// from.
func (r *Register) SignIn(ctx context.Context, name, password, from string) (token string, err error) {
	name = Fold(name)
	both := name + "\x00" + from
	if wait := max(r.tries.wait(both, freeTries, r.now()), r.tries.wait(from, freeOfPlace, r.now())); wait > 0 {
		return "", &TooMany{wait}
	}
	var u *User
	if err := r.store.Read(ctx, func(v View) (err error) { u, err = v.User(name); return err }); err != nil {
		return "", err
	}
	hash := ""
	if u != nil {
		hash = u.Hash
	}
	fits := false
	if len(password) <= longestPassword {
		if u != nil && u.Once {
			password = strings.ToLower(strings.TrimSpace(password))
		}
		if fits, err = r.hasher.fits(ctx, password, hash); err != nil {
			return "", err
		}
	}
	if u == nil || !fits || u.Once && r.now().After(u.Until) {
		r.tries.fail(both, r.now())
		r.tries.fail(from, r.now())
		return "", r.refusedSignIn(ctx, name, from)
	}
	r.tries.clear(both)
	token = rand.Text() + rand.Text()
	now := r.now()
	return token, r.store.Write(ctx, func(tx Tx) error {
		if again, err := tx.User(name); err != nil || again == nil || again.Hash != hash {
			return cmp.Or(err, ErrSignIn) // removed or reset meanwhile
		}
		return tx.Put(Change{Sessions: []Session{{Key: keyOf(token), User: name, Begun: now, Seen: now}},
			EndOlder: now.Add(-LastsIdle), Audit: []Entry{{At: now, By: name, Did: "signed in", More: from}}})
	})
}

// refusedSignIn enters a sign-in that failed. What was typed for a name may be a password: only a name that there is is
// kept.
func (r *Register) refusedSignIn(ctx context.Context, name, from string) error {
	err := r.store.Write(ctx, func(tx Tx) error {
		u, err := tx.User(name)
		if err != nil {
			return err
		}
		if u == nil {
			name = "somebody unknown"
		}
		return tx.Put(Change{Audit: []Entry{{At: r.now(), By: name, Did: "sign-in refused", More: from}}})
	})
	return cmp.Or(err, ErrSignIn)
}

func keyOf(token string) string {
	sum := sha256.Sum256([]byte(token))
	return hex.EncodeToString(sum[:])
}

// Who is signed in by a token; nil when nobody is. A session is kept alive by whoever acts, not by a page that only
// follows.
func (r *Register) Who(ctx context.Context, token string, acts bool) (*Somebody, error) {
	if token == "" {
		return nil, nil
	}
	var s *Session
	var u *User
	err := r.store.Read(ctx, func(v View) (err error) {
		if s, err = v.Session(keyOf(token)); err != nil || s == nil {
			return err
		}
		u, err = v.User(s.User)
		return err
	})
	now := r.now()
	if err != nil || s == nil || u == nil || now.Sub(s.Begun) > LastsAtMost || now.Sub(s.Seen) > LastsIdle {
		return nil, err
	}
	if acts && now.Sub(s.Seen) > noted {
		if err := r.store.Write(ctx, func(tx Tx) error {
			again, err := tx.Session(s.Key)
			if err != nil || again == nil {
				return err // ended meanwhile
			}
			again.Seen = now
			return tx.Put(Change{Sessions: []Session{*again}})
		}); err != nil {
			return nil, err
		}
	}
	return &Somebody{Name: u.Name, Role: u.Role, Choose: u.Once, Key: s.Key}, nil
}

// SignOut ends a session.
func (r *Register) SignOut(ctx context.Context, who *Somebody) error {
	return r.store.Write(ctx, func(tx Tx) error {
		return tx.Put(Change{End: []string{who.Key}, Audit: []Entry{{At: r.now(), By: who.Name, Did: "signed out"}}})
	})
}

// Choose sets the password of who is signed in, and ends their other sessions. old is the one before; who came by a
// word for one sign-in need not give it again.
func (r *Register) Choose(ctx context.Context, who *Somebody, old, password string) error {
	switch n := utf8.RuneCountInString(password); {
	case n < ShortestPassword:
		return refuse("A password has %d letters or more. A few words in a row are good ones.", ShortestPassword)
	case len(password) > longestPassword || !utf8.ValidString(password):
		return refuse("A password has at most %d letters.", longestPassword)
	case strings.Contains(Fold(password), who.Name) && n < ShortestPassword+len(who.Name):
		return refuse("Your name is too much of that password.")
	}
	var u *User
	if err := r.store.Read(ctx, func(v View) (err error) { u, err = known(v, who.Name); return err }); err != nil {
		return err
	}
	if !u.Once {
		if fits, err := r.hasher.fits(ctx, old, u.Hash); err != nil || !fits {
			return cmp.Or(err, refuse("The password of now is another."))
		}
	}
	hash, err := r.hasher.hash(ctx, password, r.random)
	if err != nil {
		return err
	}
	return r.store.Write(ctx, func(tx Tx) error {
		again, err := known(tx, who.Name)
		if err != nil {
			return err
		}
		s, err := tx.Session(who.Key)
		if err != nil {
			return err
		}
		if s == nil || again.Hash != u.Hash {
			return refuse("Somebody reset the password meanwhile; sign in again.")
		}
		again.Hash, again.Once, again.Until = hash, false, time.Time{}
		return tx.Put(Change{Users: []User{*again}, EndOf: []string{who.Name}, Sessions: []Session{*s},
			Audit: []Entry{{At: r.now(), By: who.Name, Did: "password chosen"}}})
	})
}
