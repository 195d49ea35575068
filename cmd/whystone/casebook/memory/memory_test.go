package memory

import (
	"testing"

	"pgregory.net/rapid"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/casebook/storetest"
)

func TestStore(t *testing.T) {
	storetest.Run(t, func(*testing.T) casebook.Store { return New() }, nil)
}

func TestMachine(t *testing.T) {
	storetest.Machine(t, func(rapid.TB) casebook.Store { return New() }, nil)
}
