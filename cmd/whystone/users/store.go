package users

import (
	"context"
	"time"
)

// User is somebody who may sign in.
type User struct {
	Name  string
	Role  Role
	Hash  string    // of the password, or of the word for one sign-in
	Once  bool      // it is such a word
	Until time.Time // up to when the word is good; zero for a password
	Added time.Time
}

// Session is somebody signed in.
type Session struct {
	Key   string // SHA-256 of what the browser holds
	User  string
	Begun time.Time
	Seen  time.Time // the last that was heard of it, give or take a minute
}

// Listing is a user as a list shows them.
type Listing struct {
	Format int       `json:"format"`
	Name   string    `json:"name"`
	Role   Role      `json:"role"`
	Once   bool      `json:"once"` // they have not chosen a password yet
	Added  time.Time `json:"added"`
}

// Listed is a user without what nobody needs to see.
func Listed(u User) Listing { return Listing{1, u.Name, u.Role, u.Once, u.Added} }

// Entry is a line of the audit.
type Entry struct {
	Seq  int64     `json:"seq"` // from 1; given by the store
	At   time.Time `json:"at"`
	By   string    `json:"by"`
	Did  string    `json:"did"`
	Whom string    `json:"whom,omitempty"`
	More string    `json:"more,omitempty"`
}

// Change is what one write changes.
type Change struct {
	House    *string
	Users    []User    // put in place of those of the same name
	Remove   []string  // users, with their sessions
	Sessions []Session // put in place of those of the same key
	End      []string  // keys of sessions
	EndOf    []string  // users whose sessions end
	EndOlder time.Time // sessions that were heard of last before this end, too
	Audit    []Entry
}

// View is a look at a store. It is good until the function ends that it was given to.
type View interface {
	// House is the house's name, empty when it was not set up.
	House() (string, error)
	// User finds one by name, nil when there is none.
	User(name string) (*User, error)
	// Users are all, sorted by name.
	Users() ([]User, error)
	// Session finds one by its key, nil when there is none.
	Session(key string) (*Session, error)
	// Audit is what was entered last, the newest first, at most so many.
	Audit(most int) ([]Entry, error)
}

// Tx is a write at work: it sees its own puts. Within one put, what ends and what is removed goes before what is put in
// place.
type Tx interface {
	View
	Put(Change) error
}

// Store keeps users, sessions and the audit. It is safe for use by many goroutines and, where it is kept in a file, by
// many processes.
type Store interface {
	// Write makes one write, whole and durably, or not at all when do or the store fails. Nothing else is written
	// meanwhile.
	Write(ctx context.Context, do func(Tx) error) error
	// Read looks at the store as it is at one moment.
	Read(ctx context.Context, do func(View) error) error
	Close() error
}
