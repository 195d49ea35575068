package terminal

import (
	"math"
	"testing"

	"whystone/engine/phrase"
)

// TestTimes: two figures, whatever the size.
func TestTimes(t *testing.T) {
	for x, want := range map[float64]string{1.04: "about 1 times", 2.349: "about 2.3 times", 9.94: "about 9.9 times",
		9.96: "about 10 times", 9.951: "about 10 times", 99.4: "about 99 times", 7912: "about 7,900 times",
		1e9: "over 1,000,000,000 times", math.Inf(1): "over 1,000,000,000 times"} {
		if got := phrase.Times(x); got != want {
			t.Errorf("%g: %q, want %q", x, got, want)
		}
	}
}
