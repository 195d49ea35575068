package answers

import (
	"encoding/json"
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"whystone/engine"
	"whystone/engine/enginetest"
	"whystone/engine/next/feasible"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/vocab"
)

// What tests of the engine share, by short names.
var (
	read      = enginetest.Case
	demoCases = enginetest.Demo
)

func loaded(tb testing.TB) *kb.Ruleset {
	tb.Helper()
	return enginetest.Ruleset(tb)
}

var noon = engine.Moment{On: time.Date(2031, 3, 10, 12, 0, 0, 0, time.UTC), DatedBy: "taken"}

// drawn is a case of so many readings of a material, drawn at random: three in four as its sheet leads to expect, the
// others anything that the test can read.
func drawn(rs *kb.Ruleset, rng *rand.Rand, n int) *casefile.Case {
	m := rs.Leaves[rng.IntN(len(rs.Leaves))]
	c := &casefile.Case{ID: fmt.Sprint("drawn from ", m.ID)}
	loose := false
	c.Stone.Mounted = &loose
	if rng.IntN(2) == 0 {
		c.Claim, c.ClaimSays = "diamond", "diamond"
	}
	for _, i := range rng.Perm(len(rs.Tests)) {
		for _, r := range feasible.Expected(rs, c, rs.Tests[i], m) {
			if len(c.Readings) == n || c.Has(r.Observable) {
				continue
			}
			if rng.IntN(4) == 0 {
				r = anything(rs, rng, c, rs.Tests[i], r)
			}
			c.Add(r)
		}
	}
	return c
}

func anything(rs *kb.Ruleset, rng *rand.Rand, c *casefile.Case, t *kb.Test, r *casefile.Reading) *casefile.Reading {
	for _, s := range feasible.Sources(rs, c, t) {
		o := s.Observable
		if o != r.Observable {
			continue
		}
		switch o.Kind {
		case vocab.Quantity:
			return s.Value(s.Limits[0] + rng.Float64()*(s.Limits[1]-s.Limits[0]))
		case vocab.Choice:
			return s.Choice(rng.IntN(len(o.Outcomes)))
		default:
			return s.Feature(rng.IntN(len(o.Outcomes)), rng.IntN(2) == 0)
		}
	}
	return r
}

// allCases are the demo cases and some drawn at random, each with a name.
func allCases(tb testing.TB, rs *kb.Ruleset, drawings, readings int) map[string]*casefile.Case {
	out := demoCases(tb, rs)
	rng := rand.New(rand.NewPCG(19, 88))
	for i := range drawings {
		out[fmt.Sprintf("drawn %03d", i)] = drawn(rs, rng, 1+rng.IntN(readings))
	}
	return out
}

// each runs f on every case, by name.
func each(cases map[string]*casefile.Case, f func(name string, c *casefile.Case)) {
	for _, name := range slices.Sorted(maps.Keys(cases)) {
		f(name, cases[name])
	}
}

func toJSON(tb testing.TB, v any) string {
	tb.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		tb.Fatal(err)
	}
	return string(b)
}

// rounds is how often a drawn check runs: fewer in a short run.
func rounds(n int) int {
	if testing.Short() {
		return n/10 + 1
	}
	return n
}
