package next

import (
	"testing"
	"time"

	"whystone/engine"
	"whystone/engine/enginetest"
	"whystone/kb"
	"whystone/kb/load"
)

// What tests of the engine share, by short names.
var (
	read      = enginetest.Case
	demoCases = enginetest.Demo
)

func loaded(tb testing.TB, above ...load.Layer) *kb.Ruleset {
	tb.Helper()
	return enginetest.Ruleset(tb, above...)
}

var noon = engine.Moment{On: time.Date(2031, 3, 10, 12, 0, 0, 0, time.UTC), DatedBy: "taken"}

// rounds is how often a drawn check runs: fewer in a short run.
func rounds(n int) int {
	if testing.Short() {
		return n/10 + 1
	}
	return n
}
