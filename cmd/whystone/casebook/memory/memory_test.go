package memory

import (
	"testing"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/casebook/storetest"
)

func TestStore(t *testing.T) {
	storetest.Run(t, func(*testing.T) casebook.Store { return New() }, nil)
}
