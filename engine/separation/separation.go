// Package separation finds the materials that no harmless test of a house can tell apart, and what one more instrument
// would buy: which pairs it would newly part, and which pairs the house would lose without one that it has.
//
// A test tells A from B by itself when what it usually gives of A excludes B, or is at least so many times likelier
// under A than under B as the policy asks of a rival. What it usually gives of A is, for a choice, an outcome that A's
// sheet has as "usually" or "always"; for features, each such feature by itself; for a quantity, five values spread
// over the range (over its typical part, where the sheet has one), of which four have to tell. A reading is made
// without error, by itself, on a clean loose round brilliant of one carat, and the engine judges it with all rules of
// the house. Two materials are told apart when a test tells either from the other.
//
// The measure is the same for a pair that stays alike: the ratio that a test comes to, of which the largest says how
// near the pair is to a separation.
//
// Beside what tells reliably there is what tells sometimes: an outcome or feature that A's sheet has as "often",
// "sometimes" or "rarely" only, and that excludes B or is so many times likelier under A. Curved growth lines name a
// flame-fusion stone, but many a clean one shows none; so such a sign makes no two materials apart, and is told beside
// them.
//
// Only tests that are harmless and can be done on that stone are judged. The house is those of them that no rule
// forbids on that stone, less those that it lacks. Rules that hold of the bare stone count beside every reading, as
// they do in every verdict.
package separation

import (
	"context"
	"math"
	"runtime"
	"slices"
	"time"

	"golang.org/x/sync/errgroup"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/bitset"
	"whystone/kb/vocab"
)

// telling is the least logarithm of a ratio that is worth telling: below it a test favours neither.
const telling = 0.05

// Table says of each pair of leaves which tests tell them apart, and how near the others come. Immutable, safe for
// concurrent use.
type Table struct {
	rs     *kb.Ruleset
	on     time.Time
	judged tests
	usable tests       // of those judged, the ones that no rule forbids
	told   []tests     // by pair
	near   [][]float32 // by test, then pair; nil: a test that is not judged
	signs  [][]sign    // by test
}

// tests is a set of tests by their index in Ruleset.Tests.
type tests = bitset.Fixed[[vocab.MaxTests / 64]uint64]

// Build judges what every harmless test usually gives of every material, by the rules in force on a date. The only
// error is that of a context that is over.
func Build(ctx context.Context, e *engine.Engine, on time.Time) (*Table, error) {
	rs := e.Ruleset
	n := len(rs.Leaves)
	t := &Table{rs: rs, on: on, told: make([]tests, n*(n-1)/2), near: make([][]float32, len(rs.Tests)),
		signs: make([][]sign, len(rs.Tests))}
	t.judged, t.usable = testsAble(rs, on)
	var work errgroup.Group
	work.SetLimit(runtime.GOMAXPROCS(0))
	for _, i := range t.judged.Members() {
		work.Go(func() error {
			t.near[i], t.signs[i] = newScan(e, on).test(ctx, rs.Tests[i])
			return ctx.Err()
		})
	}
	if err := work.Wait(); err != nil {
		return nil, err
	}
	t.tell()
	return t, nil
}

// tell marks the pairs that each test tells apart.
func (t *Table) tell() {
	least := t.least()
	for i, near := range t.near {
		for p, log := range near {
			if math.Abs(float64(log)) >= least {
				t.told[p].Add(i)
			}
		}
	}
}

// pair is the place of two leaves by their indexes, the lower first.
func (t *Table) pair(a, b int) int {
	a, b = min(a, b), max(a, b)
	return a*(2*len(t.rs.Leaves)-a-1)/2 + b - a - 1
}

// house is the tests that may be done, less those that the house lacks.
func (t *Table) house(lacks []string) tests {
	house := t.usable
	house.Minus(t.lacked(lacks))
	return house
}

// lacked is the tests that the house lacks, of those that may be done. Ids of others are left out.
func (t *Table) lacked(lacks []string) tests {
	var out tests
	for i, x := range t.rs.Tests {
		if slices.Contains(lacks, x.ID) {
			out.Add(i)
		}
	}
	out.Intersect(t.usable)
	return out
}

// Near is the test of the house that comes nearest to telling two leaves apart, or tells them apart best.
type Near struct {
	Test *kb.Test // nil: no test favours either
	// Ratio is how many times likelier what the test usually gives of Of is under Of than under From: for a quantity
	// the ratio that four of five values reach. Infinite where it excludes From.
	Ratio    float64
	Of, From *kb.Material
}

// nearest finds the test of the house that comes nearest to telling two leaves apart; of several alike the first by id.
func (t *Table) nearest(a, b *kb.Material, house []int) Near {
	if a.Index > b.Index {
		a, b = b, a
	}
	best, at := 0.0, t.pair(a.Index, b.Index)
	out := Near{}
	for _, i := range house {
		log := float64(t.near[i][at])
		if math.Abs(log) <= math.Abs(best) || math.Abs(log) < telling {
			continue
		}
		best = log
		out = Near{Test: t.rs.Tests[i], Ratio: math.Exp(math.Abs(log)), Of: a, From: b}
		if log < 0 {
			out.Of, out.From = b, a
		}
	}
	return out
}
