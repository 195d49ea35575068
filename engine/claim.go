package engine

import (
	"math"
	"slices"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/vocab"
)

// Answer is that to a claim.
type Answer uint8

// The three answers, and NoClaim when nothing is claimed.
const (
	NoClaim Answer = iota
	Open
	Stands
	Falls
)

var answerWords = [...]string{"", "open", "stands", "falls"}

// String gives the word used in output.
func (a Answer) String() string { return answerWords[a] }

// ClaimAnswer is what the readings say of the claim, and of the material claimed regardless of origin and colour.
type ClaimAnswer struct {
	Claim       *kb.Claim // nil when nothing is claimed, or the word is unknown
	Answer      Answer
	Group       *kb.Material // nil when nothing nameable lies above the claim
	GroupAnswer Answer
}

// answer answers the claim; the decision's verdict must be there.
func (j *Judge) answer(c *casefile.Case, d *Decision) {
	d.Claim = ClaimAnswer{}
	if c.Claim == "" {
		return
	}
	claim := j.e.Ruleset.Claim(c.Claim)
	d.Claim.Answer = Open
	if claim == nil {
		return
	}
	d.Claim.Claim, d.Claim.Group = claim, claim.Group(j.e.Ruleset)
	wanted := j.demanded(claim)
	other, read := j.colour(c, wanted)
	w := &j.w
	if other {
		w = j.withoutColour(claim, wanted)
	}
	d.Claim.Answer = j.answerFor(d, w, claim.Leaves, len(claim.Colours) == 0 || read && !other)
	if d.Claim.Group != nil {
		d.Claim.GroupAnswer = j.answerFor(d, &j.w, d.Claim.Group.Leaves, true)
	}
}

func (j *Judge) answerFor(d *Decision, w *weights, leaves []int, mayStand bool) Answer {
	switch {
	case d.Faulty || d.Class == Contradictory:
		return Open
	case j.readings >= 2 && j.falls(d, w, leaves):
		return Falls
	case d.Class == Identified && mayStand && within(d.Named.Leaves, leaves):
		return Stands
	default:
		return Open
	}
}

func within(some, all []int) bool {
	for _, i := range some {
		if _, ok := slices.BinarySearch(all, i); !ok {
			return false
		}
	}
	return true
}

// falls tells whether the claim's part of the whole weight, doubts counted, is too small at the house's priors and at
// even odds, where the claim's leaves together have one half.
func (j *Judge) falls(d *Decision, w *weights, leaves []int) bool {
	claimed, prior, rest := 0.0, 0.0, 0.0
	at := 0
	for i := range j.e.leaves {
		x := w.weight(i)
		if at < len(leaves) && leaves[at] == i {
			at++
			claimed, prior = claimed+x, prior+j.e.prior[i]
		} else {
			rest += x
		}
	}
	rest += w.unlistedWeight(j.e)
	house := claimed / (claimed + rest)
	even := claimed / prior / (claimed/prior + rest/(1-prior))
	limit := 1 - d.Required
	return house < limit && even < limit
}

// demanded is the set of colours that a claim demands, or nought.
func (j *Judge) demanded(claim *kb.Claim) uint64 {
	o := j.e.Ruleset.Vocabulary.Observable(vocab.Colour)
	var wanted uint64
	if o != nil {
		for _, word := range claim.Colours {
			if i, ok := o.Outcome(word); ok {
				wanted |= o.Meaning(i)
			}
		}
	}
	return wanted
}

// colour tells whether a colour other than the demanded ones was read, and whether a demanded one was. A choice that covers
// demanded colours and others is neither.
func (j *Judge) colour(c *casefile.Case, wanted uint64) (other, read bool) {
	if wanted == 0 {
		return false, false
	}
	for _, r := range c.Readings {
		if r.Observable.Name == vocab.Colour && j.counts(r) {
			meaning := r.Observable.Meaning(r.Outcome)
			read = read || meaning&^wanted == 0
			other = other || meaning&wanted == 0
		}
	}
	return other, read
}

// withoutColour weighs the case anew with a colour other than the demanded ones as an exclusion of the claim's leaves,
// in place of what the sheets say of their colour.
func (j *Judge) withoutColour(claim *kb.Claim, wanted uint64) *weights {
	var undo []func()
	for n := range j.items {
		it := &j.items[n]
		r := it.reading
		if r == nil || r.Observable.Name != vocab.Colour || r.Observable.Meaning(r.Outcome)&wanted != 0 {
			continue
		}
		c, excludes, none := it.c, it.excludes, it.none
		undo = append(undo, func() { it.c, it.excludes, it.none = c, excludes, none })
		it.c, it.excludes, it.none = slices.Clone(c), slices.Clone(excludes), false
		if none { // no sheet speaks of this colour, and c was never filled in
			clear(it.c)
		}
		for _, i := range claim.Leaves {
			it.c[i] = math.Log(it.blunder)
			it.excludes.add(i)
		}
	}
	j.weigh(&j.coloured)
	for _, f := range undo {
		f()
	}
	return &j.coloured
}
