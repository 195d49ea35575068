package next

import (
	"slices"

	"whystone/engine/next/feasible"
	"whystone/kb/casefile"
)

// reach tells whether all that the house can still do would bring the verdict further if the stone were of some
// material of weight and everything came out as its sheet leads to expect.
func (b *bench) reach() bool {
	p := b.players[0]
	for leaf := range b.e.Ruleset.Leaves {
		if b.w[leaf] < splitShare/10 {
			continue
		}
		s := p.play(b.imagined(leaf))
		if s.rank > b.base.rank {
			return true
		}
	}
	return false
}

// imagined is the case with every test that can be done as it is expected of a leaf. What was read stays as it is.
func (b *bench) imagined(leaf int) *casefile.Case {
	c := *b.c
	c.Readings = slices.Clone(b.c.Readings)
	for _, t := range b.able {
		for _, r := range feasible.Expected(b.e.Ruleset, b.c, t, b.e.Ruleset.Leaves[leaf]) {
			if i := slices.IndexFunc(c.Readings,
				func(o *casefile.Reading) bool { return o.Observable == r.Observable }); i < 0 {
				c.Add(r)
			} else if !c.Readings[i].Usable() {
				c.Readings[i] = r
			}
		}
	}
	return &c
}
