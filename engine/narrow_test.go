package engine

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"whystone/kb"
)

// TestForemostCandidate: looking only at what comes near the largest share picks what comparing each with the one
// before picks, ties that rounding makes of equal shares included.
func TestForemostCandidate(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	ties := 0
	for range 20_000 {
		j := &Judge{e: &Engine{}}
		for n := range 2 + rng.IntN(8) {
			j.e.nodes = append(j.e.nodes, &kb.Material{ID: fmt.Sprint(rng.IntN(100))})
			j.joins.add(^n)
			share := []float64{0, 0.25, 0.5, rng.Float64()}[rng.IntN(4)]
			if share *= 1 + float64(rng.IntN(5)-2)*4e-13; rng.IntN(6) == 0 {
				share = -1 // taken
			}
			j.joins.share = append(j.joins.share, share)
		}
		want := -1
		for n, x := range j.joins.share {
			if x >= 0 && (want < 0 || j.comesBefore(n, want)) {
				want = n
			}
		}
		if got := j.foremostCandidate(); got != want {
			t.Fatalf("of %v candidate %d is picked, and %d comes first", j.joins.share, got, want)
		}
		for _, x := range j.joins.share {
			if want >= 0 && x > j.joins.share[want] {
				ties++
				break
			}
		}
	}
	if ties < 100 {
		t.Errorf("%d ties were decided by name: too little was tried", ties)
	}
}
