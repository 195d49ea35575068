package engine

import (
	"math"
	"slices"

	"whystone/engine/phrase"
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
	Why         phrase.Code  // what decided it
	Group       *kb.Material // nil when nothing nameable lies above the claim
	GroupAnswer Answer
	GroupWhy    phrase.Code
}

// claimed is a claim as its answer is worked out.
type claimed struct {
	*asked
	of      *casefile.Case
	sent    bool     // a rule sends the stone on, and that counts
	colours uint64   // demanded; none: any
	other   bool     // another colour was read, in some place
	none    bool     // in every place another colour was read
	read    bool     // a demanded colour was read
	w       *weights // by which it is too unlikely: with another colour as an exclusion of the leaves
}

// answer answers the claim; the decision's verdict must be there.
func (j *Judge) answer(c *casefile.Case, d *Decision) {
	d.Claim = ClaimAnswer{}
	if c.Claim == "" {
		return
	}
	laid := j.e.claims[c.Claim] // folded at intake
	d.Claim.Answer, d.Claim.Why = Open, phrase.UnknownWord
	if laid == nil {
		return
	}
	if d.Claim.Claim = laid.claim; laid.hasGroup {
		d.Claim.Group = laid.group.node
		d.Claim.GroupAnswer, d.Claim.GroupWhy = j.answerFor(d, &claimed{asked: &laid.group, of: c, w: &j.w})
	}
	cl := claimed{asked: &laid.own, of: c, sent: j.sentOn(), colours: laid.colours, w: &j.w}
	cl.other, cl.none, cl.read = j.colour(c, cl.colours)
	if cl.other {
		was := j.excludeByColour(laid.claim, cl.colours)
		j.weigh(&j.coloured)
		copy(j.items, was)
		cl.w = &j.coloured
	}
	d.Claim.Answer, d.Claim.Why = j.answerFor(d, &cl)
}

// growthOfClaim is the claim's node itself where an origin is demanded of one that holds several; else that node's
// growth group.
func (e *Engine) growthOfClaim(c *kb.Claim) *kb.Material {
	if c.Origin != "" && c.Node.Nameable && e.originOf(c.Node.Leaves) == "" {
		return c.Node
	}
	return e.growthGroup(c.Node)
}

func (e *Engine) allNatural(leaves []int) bool {
	return len(leaves) > 0 && e.originOf(leaves) == kb.Natural
}

// answerFor goes through the grounds; the first that applies decides.
func (j *Judge) answerFor(d *Decision, c *claimed) (Answer, phrase.Code) {
	switch {
	case len(c.leaves) == 0:
		return Open, phrase.NothingOfOrigin
	case d.Faulty:
		return Open, phrase.RuleFault
	case d.NotListed == NotListedLikely:
		if !slices.ContainsFunc(c.leaves, func(i int) bool { return !j.w.zero.has(i) }) {
			return Falls, phrase.NotListed
		}
		return Open, phrase.NotListed
	case d.Class == Contradictory:
		return Open, phrase.Contradiction
	case d.Named != nil && c.sharesNone(d.Named) && !slices.ContainsFunc(d.RestsOnPriors, c.shares):
		return Falls, phrase.NamedOther
	case d.Named != nil && c.none && (d.Named.Under(c.node) || c.node.Under(d.Named)):
		return Falls, phrase.OtherColour
	case j.besideClaim(c.leaves):
		return Open, phrase.BesideWithheld
	case d.Named != nil && c.growth != nil && d.Named.Under(c.growth):
		return j.withinGrowth(c)
	case j.tooUnlikely(d, c):
		return Falls, phrase.TooUnlikely
	case d.Named != nil && within(d.Named.Leaves, c.leaves):
		return c.standing(phrase.Named)
	}
	return Open, phrase.NotEnough
}

func (c *claimed) shares(m *kb.Material) bool {
	return slices.ContainsFunc(m.Leaves, func(i int) bool { _, ok := slices.BinarySearch(c.leaves, i); return ok })
}

func (c *claimed) sharesNone(m *kb.Material) bool { return !c.shares(m) }

// standing lets a claim stand on a ground, if nothing else is in the way.
func (c *claimed) standing(why phrase.Code) (Answer, phrase.Code) {
	switch {
	case c.sent:
		return Open, phrase.SentOn
	case c.colours != 0 && (!c.read || c.other):
		return Open, phrase.ColourNotRead
	case c.natural && !(c.node.Species != nil && growthKnown(c.node.Species.Grown)):
		return Open, phrase.GrownNotListed
	}
	return Stands, why
}

// withinGrowth answers a claim when the group within which its origin has to be told apart, or a node below it, is
// named: by exclusions alone.
func (j *Judge) withinGrowth(c *claimed) (Answer, phrase.Code) {
	excluded, far, listed, others := true, true, false, true
	for _, i := range c.leaves {
		excluded = excluded && j.w.excluded.has(i)
		far = far && several(j.exclusionTests(i))
	}
	var origin kb.Origin
	if c.natural {
		origin = kb.Natural
	}
	for _, i := range c.growth.Leaves {
		listed = listed || !j.w.excluded.has(i) && !j.leaf(i).Other
		if _, own := slices.BinarySearch(c.leaves, i); !own {
			others = others && j.outOf(i, origin)
		}
	}
	switch {
	case excluded && (listed || far):
		return Falls, phrase.OwnExcluded
	case others:
		return c.standing(phrase.OthersExcluded)
	}
	return Open, phrase.OriginOpen
}

func within(some, all []int) bool {
	for _, i := range some {
		if _, ok := slices.BinarySearch(all, i); !ok {
			return false
		}
	}
	return true
}

// tooUnlikely tells whether a claim falls by weight. Where the group within which its origin is to be told apart would
// not fall with it, weight alone says nothing of the origin: all that is claimed must be excluded too, and not in
// doubt.
func (j *Judge) tooUnlikely(d *Decision, c *claimed) bool {
	if !c.w.falls(d, c.leaves, c.prior) || !j.twoAgainst(c.of, c.leaves, c.prior, c.colours) {
		return false
	}
	if c.growth == nil ||
		j.w.falls(d, c.growth.Leaves, c.grown) && j.twoAgainst(c.of, c.growth.Leaves, c.grown, 0) {
		return true
	}
	return d.Doubt <= d.DoubtLimit && !slices.ContainsFunc(c.leaves, func(i int) bool { return !c.w.excluded.has(i) })
}

// falls tells whether the part of the whole weight of some leaves, doubts counted, is too small at the house's priors
// and at even odds, where these leaves together have one half.
func (w *weights) falls(d *Decision, leaves []int, prior float64) bool {
	claimed := 0.0
	for _, i := range leaves {
		claimed += w.above[i]
	}
	house, rest := claimed/w.whole, w.whole-claimed
	even := claimed / prior / (claimed/prior + rest/(1-prior))
	limit := 1 - d.Required
	return house < limit && even < limit
}

// against is what a reading leaves of a prior, at most, when it speaks against it: less would be next to nothing.
const against = 0.99

// twoAgainst tells whether two readings speak against some leaves, no mere impressions: each is less likely on them
// than on any stone. One that says nothing of them is no second, and two that were joined to one figure are one. Rules
// that fire count as one, where they rest on other readings. Where colours are demanded, another colour counts however
// it was read.
func (j *Judge) twoAgainst(c *casefile.Case, leaves []int, prior float64, colours uint64) bool {
	j.opposed = j.opposed[:0]
	for _, r := range c.Readings {
		if !j.counts(r) || slices.ContainsFunc(j.items, func(it item) bool { return it.second == r }) {
			continue
		}
		other := colours != 0 && r.Observable == j.e.colour && r.Observable.Meaning(r.Outcome)&colours == 0
		own := func(it *item) bool { return it.reading == r }
		if other || j.speakAgainst(leaves, prior, own) && !j.byEye(r) {
			if j.opposed = append(j.opposed, r); len(j.opposed) == 2 {
				return true
			}
		}
	}
	return len(j.opposed) == 1 && j.ruleAgainst(c, leaves, prior)
}

// speakAgainst tells whether some items alone leave less of the prior of some leaves. Of a leaf that one excludes that
// alone counts: two rays outside a range are no less outside where their distance fits.
func (j *Judge) speakAgainst(leaves []int, prior float64, by func(it *item) bool) bool {
	j.speakers = j.speakers[:0]
	for n := range j.items {
		if it := &j.items[n]; !it.none && by(it) {
			j.speakers = append(j.speakers, it.vector)
		}
	}
	if len(j.speakers) == 0 {
		return false
	}
	left, was, ratio := 0.0, 0.0, 1.0
	for _, i := range leaves {
		says, lowest := 0.0, 0.0
		for _, v := range j.speakers {
			c := j.fill(v, i)
			if says += c; v.excludes.has(i) {
				lowest = min(lowest, c)
			}
		}
		if lowest < 0 {
			says = lowest
		}
		if says != was { // of neighbours often the same is said
			was, ratio = says, math.Exp(says)
		}
		left += j.e.prior[i] * ratio
	}
	return left <= against*prior
}

// ruleAgainst tells whether a rule speaks against some leaves that rests on readings, not on those which do so already.
func (j *Judge) ruleAgainst(c *casefile.Case, leaves []int, prior float64) bool {
	for n := range j.items {
		it := &j.items[n]
		if it.none || it.rule == nil {
			continue
		}
		of := func(r *casefile.Reading) bool { return j.counts(r) && j.observes(it.rule, r) }
		own := func(o *item) bool { return o == it }
		if j.speakAgainst(leaves, prior, own) && !slices.ContainsFunc(j.opposed, of) &&
			slices.ContainsFunc(c.Readings, func(r *casefile.Reading) bool { return of(r) && !j.byEye(r) }) {
			return true
		}
	}
	return false
}

// demanded is the set of colours that a claim demands; empty when it demands none.
func (e *Engine) demanded(claim *kb.Claim) uint64 {
	o := e.Ruleset.Vocabulary.Observable(vocab.Colour)
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

// colour tells whether a colour other than the demanded ones was read in some place, and in every one, and whether a
// demanded one was. A choice that covers demanded colours and others is neither.
func (j *Judge) colour(c *casefile.Case, wanted uint64) (other, none, read bool) {
	if wanted == 0 {
		return false, false, false
	}
	may := false
	for _, r := range c.Readings {
		if r.Observable == j.e.colour && j.counts(r) {
			meaning := r.Observable.Meaning(r.Outcome)
			read = read || meaning&^wanted == 0
			other = other || meaning&wanted == 0
			may = may || meaning&wanted != 0
		}
	}
	return other, other && !may, read
}

// excludeByColour takes a colour other than the demanded ones as an exclusion of the claim's leaves, in place of what
// the sheets say of their colour. It returns the items as they were.
func (j *Judge) excludeByColour(claim *kb.Claim, wanted uint64) (were []item) {
	j.were = append(j.were[:0], j.items...)
	for n, was := range j.were {
		r := was.reading
		if r == nil || r.Observable.Name != vocab.Colour || r.Observable.Meaning(r.Outcome)&wanted != 0 {
			continue
		}
		v := j.newItem().vector
		j.items = j.items[:len(j.were)]
		own := v.own
		*v = *was.vector
		v.own, v.c, v.excludes, v.none, v.kept, v.whole, v.levels = own, own.c, own.excludes, false, false, false, nil
		copy(v.c, was.c)
		copy(v.excludes, was.excludes)
		if was.none { // no sheet speaks of this colour, and c was never filled in
			clear(v.c)
		}
		for _, i := range claim.Leaves {
			v.c[i] = math.Log(v.blunder)
			v.excludes.add(i)
		}
		v.rulesOut = true
		j.items[n].vector = v
	}
	return j.were
}
