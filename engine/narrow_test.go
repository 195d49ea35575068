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

// TestPlainlyTooMany: what is settled without making candidates comes out the same with them, however the topmost nodes
// are split into candidates.
func TestPlainlyTooMany(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	settled, left := 0, 0
	for range 20_000 {
		j := &Judge{e: &Engine{}}
		j.e.allTopped = true
		all := 0.0
		for n := range 3 + rng.IntN(9) {
			j.e.nodes = append(j.e.nodes, &kb.Material{ID: fmt.Sprint(n)})
			j.e.tops = append(j.e.tops, n)
			share := rng.Float64()
			if rng.IntN(4) == 0 {
				share = 0
			}
			all += share
			j.nodeShare = append(j.nodeShare, share)
		}
		for n, share := range j.nodeShare {
			j.nodeShare[n] = share / (all + rng.Float64())
			parts := 1 + rng.IntN(3)
			for range parts {
				if j.nodeShare[n] > 0 {
					j.joins.share = append(j.joins.share, j.nodeShare[n]/float64(parts))
					j.joins.of = append(j.joins.of, ^n)
				}
			}
		}
		d := Decision{Required: 0.5 + rng.Float64()/2}
		if !j.plainlyTooMany(&d) {
			left++
			continue
		}
		settled++
		if j.take(&d) || !d.TooMany {
			t.Fatalf("too many are said to be open of %v, of which %g must be held", j.nodeShare, d.Required)
		}
	}
	if settled < 1000 || left < 1000 {
		t.Errorf("settled %d, left %d: too little was tried", settled, left)
	}
}

// TestTieOfExclusions: of two groups that exclude a leaf alike, the one that counts first counts in full.
func TestTieOfExclusions(t *testing.T) {
	out := func(c float64) *vector {
		return &vector{known: leafSet{1}, excludes: leafSet{1}, c: []float64{c}}
	}
	for _, x := range []struct {
		c     [3]float64
		order []int
		full  int
	}{
		{[3]float64{-4, -4, -4}, []int{2, 0, 1}, 2}, {[3]float64{-4, -4, -5}, []int{1, 0, 2}, 2},
		{[3]float64{-4, -4, -3}, []int{1, 2, 0}, 1},
	} {
		j, f := &Judge{}, &familyWeight{groups: []group{{first: 0}, {first: 1}, {first: 2}}}
		for _, c := range x.c {
			j.items = append(j.items, item{vector: out(c)})
		}
		if full := j.countsInFull(f, x.order, 0); full != x.full {
			t.Errorf("of %v, in the order %v, %d counts in full, and not %d", x.c, x.order, full, x.full)
		}
	}
}

// TestBefore: of two groups that comes first which falling and the names say.
func TestBefore(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	j := &Judge{items: []item{{vector: &vector{name: "a"}}, {vector: &vector{name: "b"}}}}
	spread := func() float64 { return float64(rng.IntN(4)) * (1 + 1e-13*float64(rng.IntN(30))) }
	for range 100_000 {
		drawn := func() group { return group{rank: rng.IntN(3), first: rng.IntN(2)} }
		a, b, ofA, ofB := drawn(), drawn(), spread(), spread()
		order := falling(ofA, ofB)
		named := a.rank < b.rank || a.rank == b.rank && a.first < b.first
		if want := order < 0 || order == 0 && named; j.before(&a, &b, ofA, ofB) != want {
			t.Fatalf("a group of spread %v, rank %d before one of %v, %d: %v", ofA, a.rank, ofB, b.rank, !want)
		}
	}
}
