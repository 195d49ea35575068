// Package memory keeps users in memory. It is the twin of the store that keeps them in a file, and passes the same
// suite.
package memory

import (
	"context"
	"maps"
	"slices"
	"strings"
	"sync"

	"whystone/cmd/whystone/users"
)

// Store is users in memory.
type Store struct {
	mu sync.RWMutex
	at view
}

// view is all that is kept. A write makes another, so that one that fails leaves nothing behind.
type view struct {
	house    string
	users    map[string]users.User
	sessions map[string]users.Session
	audit    []users.Entry
}

// New makes an empty one.
func New() *Store {
	return &Store{at: view{users: map[string]users.User{}, sessions: map[string]users.Session{}}}
}

// Close does nothing.
func (s *Store) Close() error { return nil }

// Read implements users.Store.
func (s *Store) Read(ctx context.Context, do func(users.View) error) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	s.mu.RLock()
	v := s.at.clone()
	s.mu.RUnlock()
	return do(v)
}

// Write implements users.Store.
func (s *Store) Write(ctx context.Context, do func(users.Tx) error) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return err
	}
	v := s.at.clone()
	if err := do(v); err != nil {
		return err
	}
	s.at = *v
	return nil
}

func (v view) clone() *view {
	v.users, v.sessions, v.audit = maps.Clone(v.users), maps.Clone(v.sessions), slices.Clip(v.audit)
	return &v
}

func (v *view) House() (string, error) { return v.house, nil }

func (v *view) User(name string) (*users.User, error) {
	if u, ok := v.users[name]; ok {
		return &u, nil
	}
	return nil, nil
}

func (v *view) Users() ([]users.User, error) {
	byName := func(a, b users.User) int { return strings.Compare(a.Name, b.Name) }
	return slices.SortedFunc(maps.Values(v.users), byName), nil
}

func (v *view) Session(key string) (*users.Session, error) {
	if s, ok := v.sessions[key]; ok {
		return &s, nil
	}
	return nil, nil
}

func (v *view) Audit(most int) (out []users.Entry, err error) {
	for _, e := range slices.Backward(v.audit) {
		if len(out) == most {
			break
		}
		out = append(out, e)
	}
	return out, nil
}

func (v *view) Put(c users.Change) error {
	if c.House != nil {
		v.house = *c.House
	}
	for _, name := range c.Remove {
		delete(v.users, name)
	}
	maps.DeleteFunc(v.sessions, func(key string, s users.Session) bool {
		return slices.Contains(c.End, key) || slices.Contains(c.EndOf, s.User) || slices.Contains(c.Remove, s.User) ||
			s.Seen.Before(c.EndOlder)
	})
	for _, u := range c.Users {
		v.users[u.Name] = u
	}
	for _, s := range c.Sessions {
		v.sessions[s.Key] = s
	}
	for _, e := range c.Audit {
		e.Seq = int64(len(v.audit)) + 1
		v.audit = append(v.audit, e)
	}
	return nil
}
