package sqlite

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"pgregory.net/rapid"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/casebook/storetest"
)

func open(t testing.TB, folder string) *Store {
	t.Helper()
	s, err := Open(context.Background(), folder, true)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

// quick is a folder in memory where there is one, for tests that are not about the disk: there a sync costs nothing.
func quick(t testing.TB) string {
	t.Helper()
	folder, err := os.MkdirTemp("/dev/shm", "casebook")
	if err != nil {
		return t.TempDir()
	}
	t.Cleanup(func() { _ = os.RemoveAll(folder) })
	return folder
}

func TestStore(t *testing.T) {
	storetest.Run(t, func(t *testing.T) casebook.Store { return open(t, t.TempDir()) },
		func(t *testing.T, s casebook.Store) casebook.Store { return open(t, filepath.Dir(s.(*Store).path)) })
}

// TestMachine closes the file and opens it again between other things.
func TestMachine(t *testing.T) {
	fresh := func(rt rapid.TB, folder string) casebook.Store {
		s, err := Open(context.Background(), folder, true)
		if err != nil {
			rt.Fatal(err)
		}
		return s
	}
	root := quick(t)
	storetest.Machine(t, func(rt rapid.TB) casebook.Store {
		folder, err := os.MkdirTemp(root, "book")
		if err != nil {
			rt.Fatal(err)
		}
		return fresh(rt, folder)
	}, func(rt rapid.TB, s casebook.Store) casebook.Store {
		if err := s.Close(); err != nil {
			rt.Fatal(err)
		}
		return fresh(rt, filepath.Dir(s.(*Store).path))
	})
}
