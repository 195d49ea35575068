package engine

import (
	"math"
	"time"

	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/condition"
	"whystone/kb/logic"
)

// What other packages may ask of a Judge after Decide, Judge or Explain: weights by leaf, the pieces of evidence behind
// them, and how far a node is from being named. A leaf is told by its index in Ruleset.Leaves; Unlisted stands for what
// the ruleset lacks.

// Unlisted is the leaf of what the ruleset lacks.
const Unlisted = -1

// Weight is a leaf's part of the whole weight, doubts counted, from 0 to 1; 0 for one of weight zero. All leaves and
// Unlisted together make 1.
func (j *Judge) Weight(leaf int) float64 {
	if leaf == Unlisted {
		return j.w.unlistedWeight()
	}
	return j.w.weight(leaf)
}

// Excluded tells whether anything excludes a leaf.
func (j *Judge) Excluded(leaf int) bool { return leaf != Unlisted && j.w.excluded.has(leaf) }

// Zero tells whether a leaf has no weight: two families and two tests exclude it.
func (j *Judge) Zero(leaf int) bool { return leaf != Unlisted && j.w.zero.has(leaf) }

// Share is a node's share of all that is not excluded, from 0 to 1.
func (j *Judge) Share(m *kb.Material) float64 { return j.sumOver(m, j.w.share) }

// LogPrior is the logarithm of a leaf's prior.
func (j *Judge) LogPrior(leaf int) float64 {
	if leaf == Unlisted {
		return j.e.unlisted
	}
	return j.e.logPrior[leaf]
}

// LogWeight is the logarithm of a leaf's prior plus all that counts for it; minus infinity for weight zero.
func (j *Judge) LogWeight(leaf int) float64 {
	switch {
	case leaf == Unlisted:
		return j.w.unlistedLog
	case j.w.zero.has(leaf):
		return math.Inf(-1)
	}
	return j.w.log[leaf]
}

// Likelihood is LogWeight by the readings alone, prior left out.
func (j *Judge) Likelihood(leaf int) float64 {
	switch {
	case leaf == Unlisted:
		return j.w.unlistedSays
	case j.w.zero.has(leaf):
		return math.Inf(-1)
	}
	return j.w.likelihood[leaf]
}

// LikeliestLeaf is a node's likeliest leaf by the readings alone: among those without exclusion; if it has none, among
// those of weight above zero; Unlisted if it has none of these either. Of several alike the one with the largest
// prior is taken, then the first by id.
func (j *Judge) LikeliestLeaf(m *kb.Material) int {
	best := Unlisted
	for _, i := range m.Leaves {
		if j.w.zero.has(i) {
			continue
		}
		if best == Unlisted || j.likelier(i, best) {
			best = i
		}
	}
	return best
}

func (j *Judge) likelier(a, b int) bool {
	if x, y := j.w.free(a), j.w.free(b); x != y {
		return x
	}
	if gap := j.w.likelihood[a] - j.w.likelihood[b]; math.Abs(gap) > 1e-12 {
		return gap > 0
	}
	return j.e.logPrior[a] > j.e.logPrior[b]
}

// Term is a piece of evidence and what it says of one leaf.
type Term struct {
	Name     string              // the observable, with the feature if it has any, or the rule's id
	Rule     *kb.Rule            // nil: a sheet's line on readings
	Readings []*casefile.Reading // of a sheet's line: one, or two of one property, and those that its ranges go by
	Family   string
	C        float64 // contribution to the log-weight
	Counts   float64 // the part of C that counts: within a family, and beside what rests on the same readings
	Excludes bool
	Why      *phrase.Reason // why it excludes; nil when it does not
}

// Terms lists the evidence of the case in a fixed order, the same for each leaf: by family, then as it counts there.
// The leaf's log-weight is its log-prior plus the sum of Counts.
func (j *Judge) Terms(leaf int) []Term {
	var out []Term
	for f := range j.w.families {
		fw := &j.w.families[f]
		order := j.inOrder(fw)
		full := 0
		if leaf == Unlisted {
			full = j.firstForUnlisted(fw)
		} else {
			full = j.countsInFull(fw, order, leaf)
		}
		for _, g := range order {
			share := j.e.Ruleset.Policy.FurtherWeight
			if g == full {
				share = 1
			}
			out = j.groupTerms(out, &fw.groups[g], leaf, share)
		}
	}
	return out
}

func (j *Judge) groupTerms(out []Term, g *group, leaf int, share float64) []Term {
	var counted float64
	var excludes bool
	if leaf == Unlisted {
		counted = j.unlistedC(g)
	} else {
		counted, excludes = j.groupC(g, leaf)
	}
	spent := false
	for n := range g.items {
		it := &j.items[n]
		if it.silent(leaf) {
			continue // another on its readings speaks of the leaf: one term stands for both
		}
		t := j.term(n)
		if leaf == Unlisted {
			t.C = it.unlisted
		} else {
			t.C, t.Excludes = j.fill(it.vector, leaf), it.excludes.has(leaf)
		}
		if t.Excludes {
			why := j.exclusion(it, leaf)
			t.Why = &why
		}
		if !spent && t.C == counted && t.Excludes == excludes {
			t.Counts, spent = share*counted, true
		}
		out = append(out, t)
	}
	return out
}

func (j *Judge) term(n int) Term {
	it := &j.items[n]
	t := Term{Name: it.name, Rule: it.rule, Family: j.e.families[it.family]}
	if it.reading != nil {
		t.Readings = append(t.Readings, it.reading)
	}
	if it.second != nil {
		t.Readings = append(t.Readings, it.second)
	}
	t.Readings = append(t.Readings, it.first...)
	return t
}

// Repeat is a set of readings without which a contradictory case would not be.
type Repeat struct {
	Readings []string // their names, sorted
	Doubt    float64  // the sum of how likely each is a mistake; above 1 where they exclude each other
}

// Repeats lists what to repeat of the contradictory case that was decided last: by size, then most doubtful first.
func (j *Judge) Repeats(c *casefile.Case, on time.Time, d *Decision) []Repeat {
	var out []Repeat
	for _, set := range j.repeats(c, on, d) {
		r := Repeat{Readings: set}
		for _, name := range set {
			for _, x := range c.Readings {
				if x.Name() == name {
					r.Doubt += j.readingDoubt(x)
				}
			}
		}
		out = append(out, r)
	}
	return out
}

// Suppose is Decide with a rule taken to hold: its evidence, what it sets aside and where it sends the stone. The facts
// that it establishes are left as they are.
func (j *Judge) Suppose(c *casefile.Case, on time.Time, r *kb.Rule, d *Decision) {
	j.run.Do(c, on)
	j.run.Rules[r.Turn] = logic.Holds
	for _, o := range r.SetsAside {
		if s := &j.run.State.Slots[o.Index]; s.Status == condition.Ready {
			s.Status = condition.Aside
		}
	}
	j.conclude(c, d)
}

// Outcome writes what the sheets alone say of a possible reading into c, for some leaves (nil: all): ln(L'/L_any),
// where L' is how likely the reading is under the leaf, blunders counted, and L_any, which is returned, how likely on any
// stone. For a value both are densities in the inverse of the observable's unit. Of a set of features, one may be
// looked for; of two rays it is the low one, and Difference tells of the other. The case that was decided last is forgotten.
func (j *Judge) Outcome(r *casefile.Reading, leaves []int, c []float64) (any float64) {
	j.begin()
	j.readingItems(r)
	it := &j.items[0]
	j.copyOf(it, leaves, c)
	o := r.Observable
	switch r.Form {
	case casefile.Choice:
		return j.e.anyChoice(o, o.Meaning(r.Outcome))
	case casefile.Features:
		if it.unseen {
			return 1 - o.Outcomes[it.feature].Background
		}
		return o.Outcomes[it.feature].Background
	}
	return it.q.any()
}

// Difference is Outcome for the difference of two rays; there must be an observable that it is a reading of.
func (j *Judge) Difference(r *casefile.Reading, leaves []int, c []float64) (any float64) {
	j.begin()
	j.addDifference(r)
	it := &j.items[0]
	j.copyOf(it, leaves, c)
	return it.q.any()
}

func (j *Judge) copyOf(it *item, leaves []int, c []float64) {
	if leaves == nil {
		leaves = j.e.leafIndexes
	}
	for _, i := range leaves {
		c[i] = 0
		if !it.none {
			c[i] = j.fill(it.vector, i)
		}
	}
}

// Truth is that of an evaluated rule on the case that was decided last; a rule that is not evaluated fails.
func (j *Judge) Truth(r *kb.Rule) logic.Value {
	if r.Turn < 0 {
		return logic.Fails
	}
	return j.run.Rules[r.Turn]
}
