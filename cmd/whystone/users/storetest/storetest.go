// Package storetest is what every store of users has to do. Tests run it.
package storetest

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"whystone/cmd/whystone/users"
)

var (
	ctx = context.Background()
	day = time.Date(2031, 4, 12, 9, 0, 0, 123, time.UTC)
)

// Run runs the suite; open gives an empty store.
func Run(t *testing.T, open func(*testing.T) users.Store) {
	t.Run("empty", func(t *testing.T) { empty(t, open(t)) })
	t.Run("all is kept", func(t *testing.T) { kept(t, open(t)) })
	t.Run("what ends", func(t *testing.T) { ends(t, open(t)) })
	t.Run("whole or not at all", func(t *testing.T) { whole(t, open(t)) })
	t.Run("one after another", func(t *testing.T) { inTurn(t, open(t)) })
}

func put(t *testing.T, s users.Store, c users.Change) {
	t.Helper()
	if err := s.Write(ctx, func(tx users.Tx) error { return tx.Put(c) }); err != nil {
		t.Fatal(err)
	}
}

// content is all that a store says.
type content struct {
	House    string
	Users    []users.User
	Sessions []users.Session
	Audit    []users.Entry
}

func all(t *testing.T, s users.Store, keys ...string) (c content) {
	t.Helper()
	err := s.Read(ctx, func(v users.View) error {
		house, err1 := v.House()
		list, err2 := v.Users()
		audit, err3 := v.Audit(100)
		c = content{House: house, Users: list, Audit: audit}
		for _, u := range list {
			one, err := v.User(u.Name)
			if err != nil || one == nil || *one != u {
				t.Errorf("%s alone: %v, %v", u.Name, one, err)
			}
		}
		for _, key := range keys {
			s, err := v.Session(key)
			if err != nil {
				return err
			}
			if s != nil {
				c.Sessions = append(c.Sessions, *s)
			}
		}
		return errors.Join(err1, err2, err3)
	})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func same(t *testing.T, got, want content) {
	t.Helper()
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

func empty(t *testing.T, s users.Store) {
	same(t, all(t, s, "a"), content{})
	err := s.Read(ctx, func(v users.View) error {
		if u, err := v.User("anna"); u != nil || err != nil {
			t.Errorf("%v, %v", u, err)
		}
		return nil
	})
	if err != nil {
		t.Error(err)
	}
}

func some() (users.Change, content) {
	house := "Harrow Quay"
	anna := users.User{Name: "anna", Role: users.Administrator, Hash: "h", Added: day}
	ben := users.User{Name: "ben", Role: users.Staff, Hash: "g", Once: true, Until: day.Add(time.Hour), Added: day}
	c := users.Change{House: &house, Users: []users.User{ben, anna},
		Sessions: []users.Session{{Key: "a1", User: "anna", Begun: day, Seen: day},
			{Key: "a2", User: "anna", Begun: day, Seen: day.Add(time.Minute)},
			{Key: "b1", User: "ben", Begun: day, Seen: day.Add(time.Hour)}},
		Audit: []users.Entry{{At: day, By: "anna", Did: "user added", Whom: "ben", More: "staff"},
			{At: day.Add(1), By: "ben", Did: "signed in"}}}
	first, second := c.Audit[0], c.Audit[1]
	first.Seq, second.Seq = 1, 2
	return c, content{House: house, Users: []users.User{anna, ben}, Sessions: c.Sessions,
		Audit: []users.Entry{second, first}}
}

func kept(t *testing.T, s users.Store) {
	c, want := some()
	put(t, s, c)
	same(t, all(t, s, "a1", "a2", "b1", "c1"), want)
	other := "Another Quay"
	want.House, want.Users[1].Role, want.Sessions[0].Seen = other, users.Author, day.Add(2*time.Hour)
	put(t, s, users.Change{House: &other, Users: want.Users[1:], Sessions: want.Sessions[:1]})
	same(t, all(t, s, "a1", "a2", "b1"), want)
	err := s.Read(ctx, func(v users.View) error {
		last, err := v.Audit(1)
		if d := cmp.Diff(want.Audit[:1], last); d != "" {
			t.Error(d)
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
}

func ends(t *testing.T, s users.Store) {
	for name, x := range map[string]struct {
		change users.Change
		left   string
	}{
		"a session":        {users.Change{End: []string{"a1"}}, "[a2 b1]"},
		"all of a user":    {users.Change{EndOf: []string{"anna"}}, "[b1]"},
		"a removed user's": {users.Change{Remove: []string{"ben"}}, "[a1 a2]"},
		"old ones":         {users.Change{EndOlder: day.Add(time.Minute)}, "[a2 b1]"},
		"all of a user but the new": {users.Change{EndOf: []string{"anna"},
			Sessions: []users.Session{{Key: "a1", User: "anna", Begun: day, Seen: day}}}, "[a1 b1]"},
	} {
		put(t, s, users.Change{Remove: []string{"anna", "ben"}})
		c, _ := some()
		put(t, s, c)
		put(t, s, x.change)
		var keys []string
		for _, left := range all(t, s, "a1", "a2", "b1").Sessions {
			keys = append(keys, left.Key)
		}
		if got := fmt.Sprint(keys); got != x.left {
			t.Errorf("%s: %s is left", name, got)
		}
	}
	put(t, s, users.Change{Remove: []string{"ben"}})
	if got := all(t, s); len(got.Users) != 1 || len(got.Audit) != 10 {
		t.Errorf("%+v", got)
	}
}

var errRefused = errors.New("refused")

func whole(t *testing.T, s users.Store) {
	c, want := some()
	put(t, s, c)
	err := s.Write(ctx, func(tx users.Tx) error {
		if err := tx.Put(users.Change{Remove: []string{"anna"}, Audit: c.Audit}); err != nil {
			return err
		}
		if u, err := tx.User("anna"); u != nil || err != nil {
			t.Errorf("it does not see its own put: %v, %v", u, err)
		}
		return errRefused
	})
	if !errors.Is(err, errRefused) {
		t.Error(err)
	}
	same(t, all(t, s, "a1", "a2", "b1"), want)
	gone, cancel := context.WithCancel(ctx)
	cancel()
	if err := s.Write(gone, func(users.Tx) error { t.Error("it writes for who is gone"); return nil }); !errors.Is(err,
		context.Canceled) {
		t.Error(err)
	}
}

// inTurn: each of many writes adds a letter to what it finds.
func inTurn(t *testing.T, s users.Store) {
	const writers = 20
	start := ""
	put(t, s, users.Change{House: &start})
	var wg sync.WaitGroup
	for range writers {
		wg.Go(func() {
			err := s.Write(ctx, func(tx users.Tx) error {
				house, err := tx.House()
				house += "x"
				return errors.Join(err, tx.Put(users.Change{House: &house}))
			})
			if err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	if got := all(t, s).House; len(got) != writers {
		t.Errorf("%d of %d writes are left", len(got), writers)
	}
}
