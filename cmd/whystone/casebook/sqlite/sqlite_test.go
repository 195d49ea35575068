package sqlite

import (
	"context"
	"path/filepath"
	"testing"

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

func TestStore(t *testing.T) {
	storetest.Run(t, func(t *testing.T) casebook.Store { return open(t, t.TempDir()) },
		func(t *testing.T, s casebook.Store) casebook.Store { return open(t, filepath.Dir(s.(*Store).path)) })
}
