package memory_test

import (
	"testing"

	"whystone/cmd/whystone/users"
	"whystone/cmd/whystone/users/memory"
	"whystone/cmd/whystone/users/storetest"
)

func TestStore(t *testing.T) {
	storetest.Run(t, func(t *testing.T) users.Store {
		t.Helper()
		return memory.New()
	})
}
