package engine

import (
	"math"
	"slices"

	"whystone/kb/casefile"
	"whystone/kb/eval"
)

// Grounds are all that a verdict was reached from, but for the stone, the claim and the stake: a case of the same stone
// with other readings that comes to the same is judged the same, to the last figure.
type Grounds struct {
	items    []item // those that say anything
	alive    []int  // the leaves of weight above zero
	rules    []int  // of the rules that a verdict looks at, those that hold
	lifted   []bool // of them: it withholds no more
	colours  []*casefile.Reading
	spare    []*vector
	readings int // how many say anything
}

// DecideLaneUnless is DecideLane, unless the case of the lane rests on grounds that are known: these are returned then,
// and what the judge tells is still of the case that it decided last.
func (j *Judge) DecideLaneUnless(b *eval.Block, lane int, d *Decision, known ...*Grounds) *Grounds {
	c, on := b.Case(lane)
	if b.Odd(lane) {
		j.Decide(c, on, d)
		return nil
	}
	j.run.Take(b, lane)
	j.gather(c)
	for _, g := range known {
		if g.are(j, b, c, lane) {
			return g
		}
	}
	j.decideGathered(c, d)
	return nil
}

// Note writes down the grounds of the case that was decided last, of a lane that is not odd. The judge goes on with the
// memory that they had.
func (j *Judge) Note(b *eval.Block, lane int, g *Grounds) {
	c, _ := b.Case(lane)
	g.items = slices.DeleteFunc(append(g.items[:0], j.items...), func(it item) bool { return it.none })
	g.alive = append(g.alive[:0], j.w.alive...)
	g.colours = g.colours[:0]
	for _, r := range c.Readings {
		if j.ofColour(r) {
			g.colours = append(g.colours, r)
		}
	}
	g.rules, g.lifted = append(g.rules[:0], b.Held(lane)...), g.lifted[:0]
	for _, i := range g.rules {
		g.lifted = append(g.lifted, j.run.Lifted(i))
	}
	g.readings = j.readings
	j.spare, g.spare = g.spare, j.spare
}

// ofColour tells whether a reading is one of colour, and counts.
func (j *Judge) ofColour(r *casefile.Reading) bool { return r.Observable == j.e.colour && j.counts(r) }

// are tells whether the case whose evidence was gathered rests on these grounds.
func (g *Grounds) are(j *Judge, b *eval.Block, c *casefile.Case, lane int) bool {
	if g.readings != j.readings || !slices.Equal(g.rules, b.Held(lane)) {
		return false
	}
	colours := g.colours
	for _, r := range c.Readings {
		if !j.ofColour(r) {
			continue
		}
		if len(colours) == 0 || colours[0] != r {
			return false
		}
		colours = colours[1:]
	}
	if len(colours) > 0 {
		return false
	}
	for k, i := range g.rules {
		if g.lifted[k] != j.run.Lifted(i) {
			return false
		}
	}
	n := 0
	for k := range j.items {
		it := &j.items[k]
		if it.none {
			continue
		}
		if n == len(g.items) || !g.says(j, &g.items[n], it) {
			return false
		}
		n++
	}
	return n == len(g.items)
}

// says tells whether two pieces of evidence say the same of all leaves: what supports a name is asked over the prior
// alone, too, where those without weight count. What a quantity says by another is not compared.
func (g *Grounds) says(j *Judge, was, is *item) bool {
	if was.place != is.place || was.first != nil || is.first != nil {
		return false
	}
	v, o := was.vector, is.vector
	if v == o {
		return v.kept
	}
	if v.family != o.family || v.key != o.key || v.name != o.name || v.blunder != o.blunder || v.tests != o.tests ||
		v.unlisted != o.unlisted || v.rule != o.rule || !slices.Equal(v.excludes, o.excludes) {
		return false
	}
	differ := func(i int) bool { return math.Float64bits(j.fill(v, i)) != math.Float64bits(j.fill(o, i)) }
	if slices.ContainsFunc(g.alive, differ) { // which are filled
		return false
	}
	for i := range j.e.leaves {
		if differ(i) {
			return false
		}
	}
	return true
}
