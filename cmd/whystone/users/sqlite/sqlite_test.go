package sqlite_test

import (
	"context"
	"testing"

	"whystone/cmd/whystone/users"
	"whystone/cmd/whystone/users/sqlite"
	"whystone/cmd/whystone/users/storetest"
)

func TestStore(t *testing.T) {
	storetest.Run(t, func(t *testing.T) users.Store {
		t.Helper()
		s, err := sqlite.Open(context.Background(), t.TempDir(), true)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = s.Close() })
		return s
	})
}
