package engine

import (
	"cmp"
	"math"
	"math/bits"
	"slices"

	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/logic"
)

// Class is the kind of a verdict.
type Class uint8

// The four verdicts.
const (
	Inconclusive Class = iota
	Identified
	Narrowed
	Contradictory
)

var classWords = [...]string{"inconclusive", "identified", "narrowed", "contradictory"}

// String gives the word used in files and output.
func (c Class) String() string { return classWords[c] }

// Listing is whether the stone may be of a material that the ruleset does not list.
type Listing uint8

// Listed is the ordinary case. NotListedPossible: nothing on the list fits all readings, or one of them is wrong.
const (
	Listed Listing = iota
	NotListedPossible
	NotListedLikely
)

var listingWords = [...]string{"", "possible", "likely"}

// String gives the word used in output; empty for Listed.
func (l Listing) String() string { return listingWords[l] }

// MaxNodes is how many nodes a stone can be narrowed to.
const MaxNodes = 5

// Decision is a verdict without what is told around it.
type Decision struct {
	Class      Class
	Named      *kb.Material   // of Identified
	Nodes      []*kb.Material // of Narrowed
	Share      float64        // of the named node, or of the nodes together; NaN else
	Required   float64
	DoubtLimit float64
	Doubt      float64
	Unlisted   float64
	NotListed  Listing
	// RestsOnPriors are the nodes beside the named one that the readings fit nearly as well: likeliest first, then by
	// id.
	RestsOnPriors []*kb.Material
	// KeptBack are the rules that keep back a name which the verdict would else give: of Inconclusive, the names of a
	// narrowed list.
	KeptBack []*kb.Rule
	TooMany  bool   // Inconclusive because the readings leave more than MaxNodes open
	Colours  uint64 // the outcomes of colour that were read; names follow them
	Faulty   bool   // a rule on which a verdict depends could not be evaluated
	// FaultyRules are such rules; empty for most cases, so that deciding allocates nothing for it.
	FaultyRules []*kb.Rule
	Claim       ClaimAnswer
}

// decide reaches the verdict from the weights, in the order: faulty, contradictory, identified, narrowed, inconclusive.
func (j *Judge) decide(d *Decision) {
	w := &j.w
	d.Share, d.Doubt, d.Unlisted = math.NaN(), w.doubt, w.unlisted
	d.Colours = j.colours()
	for _, f := range j.run.Faults {
		if f.Rule.OnlyAdvises() {
			continue
		}
		d.Faulty = true
		if !slices.Contains(d.FaultyRules, f.Rule) {
			d.FaultyRules = append(d.FaultyRules, f.Rule)
		}
	}
	if d.Faulty {
		return
	}
	d.NotListed = j.listing()
	j.keepBack()
	switch {
	case j.contradictory(d):
		d.Class = Contradictory
	case d.NotListed == NotListedLikely:
		// Whatever is left on the list, something that is not on it fits better.
	default:
		j.name(d)
	}
}

// name names a node, or narrows the stone to several, or neither.
func (j *Judge) name(d *Decision) {
	if m := j.identify(d); m != nil {
		d.Class, d.Named, d.Share = Identified, m, j.nodeShare[j.e.names[m]]
		j.restsOnPriors(d)
		return
	}
	if d.Nodes, d.Share = j.narrow(d); d.Nodes != nil {
		d.Class = Narrowed
		return
	}
	d.Share = math.NaN()
}

// colours are the outcomes of colour that the case was read as.
func (j *Judge) colours() uint64 {
	if j.e.colour == nil {
		return 0
	}
	return j.run.Choices(j.e.colour)
}

// listing looks at the weight of what the ruleset lacks: among what is not excluded, and of all.
func (j *Judge) listing() Listing {
	switch {
	case j.w.unlisted <= 0.5:
		return Listed
	case j.w.unlistedWeight() > 0.5:
		return NotListedLikely
	}
	return NotListedPossible
}

// best is the likeliest leaf of a kind by the readings alone, of weight above zero, or -1.
func (j *Judge) best(among func(i int) bool) int {
	best := -1
	for _, i := range j.w.alive {
		if among(i) && (best < 0 || j.w.likelihood[i] > j.w.likelihood[best]) {
			best = i
		}
	}
	return best
}

// likeliest is the likeliest of some leaves by the readings alone, or -1.
func (j *Judge) likeliest(among []int) int {
	best := -1
	for _, i := range among {
		if best < 0 || j.w.likelihood[i] > j.w.likelihood[best] {
			best = i
		}
	}
	return best
}

func (w *weights) free(i int) bool { return !w.excluded.has(i) }

func (j *Judge) contradictory(d *Decision) bool {
	w := &j.w
	free := j.likeliest(w.open)
	if free < 0 {
		j.trace.add(false, phrase.Reason{Code: phrase.AllExcluded})
		return true
	}
	if d.NotListed == NotListedLikely {
		j.trace.add(true, phrase.Reason{Code: phrase.OffList})
		return false
	}
	if best := j.likeliest(w.doubtful); best >= 0 && w.likelihood[best] >= w.likelihood[free]+
		math.Log(j.e.Ruleset.Policy.Rival) {
		if j.trace != nil {
			j.trace.add(false, phrase.Reason{Code: phrase.MistakenReading, Node: j.leaf(best), Other: j.leaf(free),
				Observables: []string{j.excludedBy(best)}, Ratio: math.Exp(w.likelihood[best] - w.likelihood[free])})
		}
		return true
	}
	if d.NotListed == NotListedPossible {
		j.trace.add(false, phrase.Reason{Code: phrase.PerhapsOffList})
		return true
	}
	j.trace.add(true, phrase.Reason{Code: phrase.Consistent})
	return false
}

func (j *Judge) leaf(i int) *kb.Material { return j.e.Ruleset.Leaves[i] }

// shares adds up the leaves' shares for every nameable node.
func (j *Judge) shares() {
	if j.shared {
		return
	}
	j.shared = true
	clear(j.nodeShare)
	for _, i := range j.w.open {
		s := j.w.share[i]
		for _, n := range j.e.above[i] {
			j.nodeShare[n] += s
		}
	}
}

// identify finds the deepest nameable node that can be named, or nil. As a node must hold more than half, those that
// hold enough lie on one line from the root.
func (j *Judge) identify(d *Decision) *kb.Material {
	j.shares()
	held := false
	for n, m := range j.e.nodes {
		if j.nodeShare[n] < d.Required {
			continue
		}
		held = true
		if j.nameable(d, n, m) {
			return m
		}
	}
	if j.trace != nil && !held {
		r := phrase.Reason{Code: phrase.TwoHold}
		if r.Node, r.Other = j.foremost(); r.Other == nil {
			r.Code = phrase.NoneHolds
		}
		j.trace.add(false, r)
	}
	return nil
}

// foremost are the two nodes that hold most of the share, neither above or below the other; nil: there is none.
func (j *Judge) foremost() (first, second *kb.Material) {
	nodes := slices.Clone(j.e.nodes)
	slices.SortStableFunc(nodes, func(a, b *kb.Material) int {
		return falling(j.nodeShare[j.e.names[a]],
			j.nodeShare[j.e.names[b]])
	})
	for _, m := range nodes {
		switch {
		case j.nodeShare[j.e.names[m]] == 0:
			return first, second
		case first == nil:
			first = m
		case !m.Under(first) && !first.Under(m):
			return first, m
		}
	}
	return first, nil
}

// nameable goes through what a name needs besides its share. All of it is checked while an observer looks on.
func (j *Judge) nameable(d *Decision, n int, m *kb.Material) bool {
	watched := j.trace != nil
	if !watched {
		// What is quickly asked is asked first.
		return d.Doubt <= d.DoubtLimit && j.growthSettled(n, m) && j.withheldBy(m) == nil && j.noRival(d, n, m) &&
			j.supported(n, m)
	}
	j.trace.add(true, phrase.Reason{Code: phrase.ShareHeld, Node: m, Ratio: j.nodeShare[n], Needed: d.Required})
	good := d.Doubt <= d.DoubtLimit
	doubt := phrase.Reason{Code: phrase.DoubtBorne, Node: m, Ratio: d.Doubt, Needed: d.DoubtLimit}
	if !good {
		doubt.Code = phrase.DoubtTooLarge
	}
	j.trace.add(good, doubt)
	supported := j.supported(n, m)
	families := phrase.Reason{Code: phrase.Supported, Node: m, Families: j.trace.supporting[m]}
	if !supported {
		families.Code = phrase.LacksSupport(families.Families)
	}
	j.trace.add(supported, families)
	alone := j.noRival(d, n, m)
	by := j.withheldBy(m)
	if by != nil {
		j.trace.add(false, j.keptBack(m, by))
	}
	settled := j.growthSettled(n, m)
	if !settled {
		growth := phrase.Reason{Code: phrase.GrowthUnknown, Node: m}
		for i := range j.unsettled(n) {
			growth.Code, growth.Nodes = phrase.GrowthOpen, append(growth.Nodes, j.leaf(i))
		}
		j.trace.add(false, growth)
	}
	return good && supported && alone && by == nil && settled
}

// sentOn tells whether an active rule sends the stone on.
func (j *Judge) sentOn() bool {
	return slices.ContainsFunc(j.e.sending, func(i int) bool { return j.run.Rules[i] == logic.Holds })
}

// supported tells whether at least two families, resting on two tests, support a node: each at least doubles its odds,
// alone over the prior or added last. A mere impression is no such test.
func (j *Judge) supported(n int, m *kb.Material) bool {
	var tests testSet
	families := 0
	enough := false
	for f := range 2 * len(j.w.families) {
		// While nobody looks on, what is quickly asked is asked first: which families come to it does not matter.
		fw, quick := &j.w.families[f%len(j.w.families)], f < len(j.w.families)
		by := j.testsBehind(fw)
		by.Minus(j.e.byEye)
		if j.trace == nil && quick != (j.only(fw) != nil) || j.trace != nil && !quick || by.Empty() ||
			!j.familySupports(fw, n) {
			continue
		}
		families++
		tests.Union(by)
		j.trace.supports(j.e.families[fw.family], m)
		if families >= 2 && several(tests) {
			enough = true
			if j.trace == nil {
				return true
			}
		}
	}
	return enough
}

// testsBehind are the tests that a family's evidence rests on.
func (j *Judge) testsBehind(f *familyWeight) (tests testSet) {
	for n := range f.groups {
		for k := range f.groups[n].items {
			tests.Union(j.items[k].tests)
		}
	}
	return tests
}

// several tells whether there are at least two.
func several(s testSet) bool {
	n := 0
	for _, w := range s.Words {
		n += bits.OnesCount64(w)
	}
	return n >= 2
}

// familySupports compares the odds of the n-th node with and without a family: over the prior alone, where every leaf
// counts, and with all other families, where the leaves of weight zero don't.
func (j *Judge) familySupports(f *familyWeight, n int) bool {
	only := j.only(f)
	if only == nil || !only.kept {
		return j.doublesLast(f, n, only) || j.doublesAlone(f, n, only)
	}
	if only.asked == nil {
		only.asked, only.doubles = j.e.newNodeSet(), j.e.newNodeSet()
	}
	if !only.asked.has(n) {
		only.asked.add(n)
		if j.doublesAlone(f, n, only) {
			only.doubles.add(n)
		}
	}
	return only.doubles.has(n) || j.doublesLast(f, n, only)
}

// doubled tells whether odds are at least twice what they were.
func doubled(in, out, withIn, withOut float64) bool { return withIn*out >= 2*in*withOut }

// doublesAlone tells whether a family doubles a node's odds over the prior alone; only is the item that makes it up, if
// one does.
func (j *Judge) doublesAlone(f *familyWeight, n int, only *item) bool {
	e, ratios := j.e, j.ratiosOf(f, only, true)
	in, out := 0.0, 0.0
	for k, every := range e.every {
		inside := e.within[n][k]
		for word := inside; word != 0; word &= word - 1 {
			i := k<<6 + bits.TrailingZeros64(word)
			in += e.prior[i] * ratios[i]
		}
		for word := every &^ inside; word != 0; word &= word - 1 {
			i := k<<6 + bits.TrailingZeros64(word)
			out += e.prior[i] * ratios[i]
		}
	}
	u := e.Ruleset.Policy.Unlisted
	return doubled(e.priorIn[n], e.priorOut[n]+u, in, out+u*math.Exp(f.unlisted))
}

// doublesLast tells whether a family doubles a node's odds beside all others.
func (j *Judge) doublesLast(f *familyWeight, n int, only *item) bool {
	w, ratios := &j.w, j.ratiosOf(f, only, false)
	var in, out, restIn, restOut float64
	for k, every := range j.e.every {
		alive, inside := every&^w.zero[k], j.e.within[n][k]
		for word := alive & inside; word != 0; word &= word - 1 {
			i := k<<6 + bits.TrailingZeros64(word)
			in, restIn = in+w.above[i], restIn+w.above[i]/ratios[i]
		}
		for word := alive &^ inside; word != 0; word &= word - 1 {
			i := k<<6 + bits.TrailingZeros64(word)
			out, restOut = out+w.above[i], restOut+w.above[i]/ratios[i]
		}
	}
	return doubled(restIn, restOut+w.unlistedAbove/math.Exp(f.unlisted), in, out+w.unlistedAbove)
}

// ratiosOf are exp of what a family says of each leaf of weight above zero, or of all leaves. They are the same for
// every node, and kept with the item that makes up the family by itself, where that is kept.
func (j *Judge) ratiosOf(f *familyWeight, only *item, all bool) []float64 {
	if kept := j.ratios(only); kept != nil {
		return kept
	}
	if f.ratios == nil {
		f.ratios = j.e.numbers()
	}
	if !f.ofAlive {
		f.ofAlive = true
		was, ratio := 0.0, 1.0
		for _, i := range j.w.alive {
			if c := j.counted(f, i); c != was { // of neighbours often the same is said
				was, ratio = c, math.Exp(c)
			}
			f.ratios[i] = ratio
		}
	}
	if all && !f.ofZero {
		f.ofZero = true
		for k, word := range j.w.zero {
			for ; word != 0; word &= word - 1 {
				i := k<<6 + bits.TrailingZeros64(word)
				f.ratios[i] = math.Exp(j.familySum(f, i))
			}
		}
	}
	return f.ratios
}

// counted is what a family says of a leaf of weight above zero.
func (j *Judge) counted(f *familyWeight, i int) float64 {
	if f.sums {
		return f.sum[i]
	}
	return f.groups[0].says.c[i]
}

// nodeLikelihood is a node's by the readings alone: the largest among its leaves without exclusion, or, if it has
// none, among those of weight above zero; minus infinity when it has no weight.
func (j *Judge) nodeLikelihood(m *kb.Material) float64 {
	free, any := math.Inf(-1), math.Inf(-1)
	for _, i := range m.Leaves {
		switch x := j.w.likelihood[i]; {
		case j.w.free(i):
			if x > free {
				free = x
			}
		case x > any && !j.w.zero.has(i):
			any = x
		}
	}
	if !math.IsInf(free, -1) {
		return free
	}
	return any
}

// hasFree tells whether a leaf of the n-th node is without exclusion.
func (j *Judge) hasFree(n int) bool {
	for k, word := range j.e.within[n] {
		if word&^j.w.excluded[k] != 0 {
			return true
		}
	}
	return false
}

// noRival tells whether every rival without exclusion is far enough behind by the readings alone. Rivals are the
// nameable nodes beside it with more than a tenth of what may be missing, and those within the same nameable group.
func (j *Judge) noRival(d *Decision, n int, m *kb.Material) bool {
	own, enough := j.nodeLikelihood(m), math.Log(j.e.Ruleset.Policy.Rival)
	good := true
	for k, word := range j.e.beside[n] {
		for ; word != 0; word &= word - 1 {
			o := k<<6 + bits.TrailingZeros64(word)
			if !j.rivals(d, o, n) {
				continue
			}
			r := j.e.nodes[o]
			behind := own-j.nodeLikelihood(r) >= enough
			good = good && behind
			if j.trace != nil {
				j.trace.add(behind, ofRival(m, r, own-j.nodeLikelihood(r), j.e.Ruleset.Policy.Rival))
			} else if !behind {
				return false
			}
		}
	}
	return good
}

// rivals tells whether the o-th nameable node, which is beside the n-th, is a rival of it.
func (j *Judge) rivals(d *Decision, o, n int) bool {
	return (j.e.siblings[n].has(o) || j.nodeShare[o] > (1-d.Required)/10) && j.hasFree(o)
}

// restsOnPriors lists the nodes outside the named one's line which the readings fit nearly as well: what is common at
// the counter decided between them.
func (j *Judge) restsOnPriors(d *Decision) {
	own, enough, beside := j.nodeLikelihood(d.Named), math.Log(j.e.Ruleset.Policy.Rival), j.e.beside[j.e.names[d.Named]]
	for _, i := range j.w.open {
		if len(j.e.above[i]) == 0 || !beside.has(j.e.above[i][0]) {
			continue
		}
		m := j.e.nodes[j.e.above[i][0]]
		if !slices.Contains(d.RestsOnPriors, m) && own-j.nodeLikelihood(m) < enough {
			d.RestsOnPriors = append(d.RestsOnPriors, m)
		}
	}
	slices.SortFunc(d.RestsOnPriors, func(a, b *kb.Material) int {
		return cmp.Or(falling(j.nodeLikelihood(a), j.nodeLikelihood(b)), cmp.Compare(a.ID, b.ID))
	})
}
