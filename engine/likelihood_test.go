package engine

import (
	"math/rand/v2"
	"testing"
)

// TestFarEnds: the ends of a range so far away that they are not asked for change no bit of a density.
func TestFarEnds(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	left := 0
	for range 200_000 {
		u := 0.001 + rng.Float64()
		x, a := 20*u*rng.NormFloat64(), 12*u*rng.NormFloat64()
		b := a + u*(0.01+30*rng.Float64())
		lo, hi := (a-x)/u, (b-x)/u
		if lo > 0 {
			lo, hi = -hi, -lo
		}
		if lo < -far && hi > far {
			continue // uniform: 1 part in 10^18 off, and as it always was
		}
		if lo < -far || hi > far {
			left++
		}
		if got, want := valueDensity(x, u, a, b), (phi(hi)-phi(lo))/(b-a); got != want {
			t.Fatalf("%v ± %v within %v to %v: %v, with both ends %v", x, u, a, b, got, want)
		}
	}
	if left < 10_000 {
		t.Errorf("%d ends were far away: too little was tried", left)
	}
}
