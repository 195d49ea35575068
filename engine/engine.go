// Package engine judges a case by a ruleset: it weighs the evidence of readings and rules for each material, reaches a
// verdict, answers the claim, and can say how.
//
// The leaves of the tree of materials, and "unlisted" for what the tree lacks, are the hypotheses. A leaf's log-weight
// is the logarithm of its prior plus the contributions of the readings and of the rules that fire. Readings of one
// family rest on the same physics, so that only the first of a family counts in full. A reading far outside a
// material's range excludes it, but as every reading may be a blunder, one exclusion leaves the material a small
// weight, and what hangs on such exclusions is told as doubt. Exclusions of two families by two tests leave none.
//
// A [Judge] goes through five stages, each a file: rules (package kb), evidence, weigh, verdict, claim. [Judge.Decide]
// stops there and allocates nothing that grows with the ruleset. [Judge.Judge] does the same and then tells everything
// around the verdict; [Judge.Explain] lets an observer record the chain of reasoning on the way. There is one
// evaluator.
package engine

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"whystone/kb"
	"whystone/kb/bitset"
	"whystone/kb/vocab"
)

// Engine is a ruleset prepared for judging. Immutable, safe for concurrent use.
type Engine struct {
	Ruleset *kb.Ruleset

	families      []string
	tests         map[string]int // test id to its bit
	leaves        int
	words         int // of a set of leaves
	leafIndexes   []int
	all           leafSet
	logPrior      []float64
	prior         []float64
	equalPrior    []float64        // log: each topmost nameable node alike
	unlisted      float64          // log prior
	growth        []*kb.Material   // by node and, after the nodes, by leaf: see growthGroup
	origins       []kb.Origin      // by node: the one origin of its leaves; empty: several
	byEye         testSet          // tests that are mere impressions
	withholds     []int            // places in Ruleset.Order of the active rules that keep names back
	lines         []line           // by observable index
	keys          map[string]int   // see key
	ranked        []string         // names, sorted; see rankNames
	joint         map[[2]int]joint // of two observables of one property, by their indexes
	paired        []bool           // by observable index: another is of its property
	evidence      []ruleLine
	weighing      []int                 // places in Ruleset.Order of the active rules among them
	sending       []int                 // likewise of the active rules that send a stone on
	nodes         []*kb.Material        // nameable, deepest first, then by id
	groups        []int                 // indexes in nodes of the groups with several leaves
	within        []leafSet             // by index in nodes: its leaves
	above         [][]int               // by leaf: indexes in nodes of the nameable nodes that hold it, deepest first
	names         map[*kb.Material]int  // index in nodes
	birefringence *vocab.Observable     // or nil
	colour        *vocab.Observable     // or nil
	forbids       map[string][]*kb.Rule // by test: the rules that forbid it
	relates       bool                  // some sheet says that one quantity goes by another
	layout
}

// joint is what the readings of two observables are called together.
type joint struct {
	key  int
	name string
	rank int
}

// ruleLine is what an evidence rule says, by leaf.
type ruleLine struct {
	rule    *kb.Rule
	family  int
	key     int
	rank    int // of its id
	c       []float64
	exclude leafSet
	// unlisted is its contribution to what the ruleset lacks.
	unlisted float64
	// declared is the blunder rate and the tests used when none of its observables was read.
	declared float64
	tests    testSet
}

// leafSet is a set of leaves.
type leafSet []uint64

func (s leafSet) has(i int) bool { return s[i>>6]>>(i&63)&1 == 1 }
func (s leafSet) add(i int)      { s[i>>6] |= 1 << (i & 63) }

// within tells whether another set has all of this one.
func (s leafSet) within(other leafSet) bool {
	for k, word := range s {
		if word&^other[k] != 0 {
			return false
		}
	}
	return true
}

func (s leafSet) empty() bool {
	for _, w := range s {
		if w != 0 {
			return false
		}
	}
	return true
}

// testSet is a set of tests.
type testSet = bitset.Fixed[[vocab.MaxTests / 64]uint64]

// Prepare makes a ruleset ready for judging.
func Prepare(rs *kb.Ruleset) *Engine {
	e := &Engine{Ruleset: rs, leaves: len(rs.Leaves), words: (len(rs.Leaves) + 63) / 64, tests: map[string]int{},
		names: map[*kb.Material]int{}, keys: map[string]int{}}
	e.all = e.newSet()
	for w := range e.all {
		e.all[w] = ^uint64(0)
	}
	for i := range rs.Leaves {
		e.leafIndexes = append(e.leafIndexes, i)
	}
	for i, t := range rs.Tests {
		e.tests[t.ID] = i
		if t.ByEye {
			e.byEye.Add(i)
		}
	}
	e.colour = rs.Vocabulary.Observable(vocab.Colour)
	e.birefringence = rs.Vocabulary.Observable(vocab.Birefringence)
	for _, o := range rs.Vocabulary.Observables {
		if !slices.Contains(e.families, o.Family) {
			e.families = append(e.families, o.Family)
		}
	}
	slices.Sort(e.families)
	e.prior = rs.Priors()
	e.logPrior = make([]float64, e.leaves)
	for i, p := range e.prior {
		e.logPrior[i] = math.Log(p)
	}
	e.unlisted = math.Log(rs.Policy.Unlisted)
	e.prepareNodes()
	for _, o := range rs.Vocabulary.Observables {
		e.lines = append(e.lines, e.prepareLine(o))
	}
	e.prepareJoint()
	e.prepareGrowth()
	e.layOut()
	e.evidence = make([]ruleLine, len(rs.Order))
	for i, r := range rs.Order {
		if r.SendsOn != "" && r.Status == kb.Active {
			e.sending = append(e.sending, i)
		}
		if r.Withholds != nil && r.Status == kb.Active {
			e.withholds = append(e.withholds, i)
		}
		if !r.Evidence() {
			continue
		}
		if l := e.prepareRule(r); l.speaks() {
			e.evidence[i] = l
			if r.Status == kb.Active {
				e.weighing = append(e.weighing, i)
			}
		}
	}
	e.forbids = rs.Forbidders()
	e.rankNames()
	return e
}

// rankNames ranks whatever bears a name in evidence, so that no names are compared when a case is weighed.
func (e *Engine) rankNames() {
	each := func(f func(name string) int) {
		for i := range e.lines {
			l := &e.lines[i]
			l.rank, l.ranks = f(l.observable.Name), nil
			for _, label := range l.labels {
				l.ranks = append(l.ranks, f(label))
			}
		}
		for i := range e.evidence {
			if l := &e.evidence[i]; l.rule != nil {
				l.rank = f(l.rule.ID)
			}
		}
		for both, as := range e.joint {
			as.rank = f(as.name)
			e.joint[both] = as
		}
	}
	each(func(name string) int { e.ranked = append(e.ranked, name); return 0 })
	slices.Sort(e.ranked)
	e.ranked = slices.Compact(e.ranked)
	each(e.rankOf)
}

// rankOf is the rank of a name. All that lie between the same two that were ranked have one rank.
func (e *Engine) rankOf(name string) int {
	at, ranked := slices.BinarySearch(e.ranked, name)
	if ranked {
		return 2*at + 1
	}
	return 2 * at
}

func (e *Engine) family(name string) int {
	i, _ := slices.BinarySearch(e.families, name)
	return i
}

func (e *Engine) newSet() leafSet { return make(leafSet, e.words) }

// prepareNodes lists the nameable nodes, and spreads equal priors over the topmost of them.
func (e *Engine) prepareNodes() {
	for _, m := range e.Ruleset.Nodes {
		if m.Nameable {
			e.nodes = append(e.nodes, m)
		}
	}
	slices.SortStableFunc(e.nodes, func(a, b *kb.Material) int { return b.Depth - a.Depth })
	e.above = make([][]int, e.leaves)
	top := 0
	for i, m := range e.nodes {
		e.names[m] = i
		e.within = append(e.within, e.newSet())
		if m.Group && len(m.Leaves) > 1 {
			e.groups = append(e.groups, i)
		}
		for _, l := range m.Leaves {
			e.above[l] = append(e.above[l], i)
			e.within[i].add(l)
		}
		if m.NameableAbove() == nil {
			top++
		}
	}
	e.equalPrior = make([]float64, e.leaves)
	each := (1 - e.Ruleset.Policy.Unlisted) / float64(top)
	for _, m := range e.nodes {
		if m.NameableAbove() == nil {
			for _, l := range m.Leaves {
				e.equalPrior[l] = math.Log(each / float64(len(m.Leaves)))
			}
		}
	}
}

func (e *Engine) prepareJoint() {
	e.joint, e.paired = map[[2]int]joint{}, make([]bool, len(e.Ruleset.Vocabulary.Observables))
	for _, a := range e.Ruleset.Vocabulary.Observables {
		for _, b := range e.Ruleset.Vocabulary.Observables {
			if a != b && a.Kind == vocab.Quantity && b.Kind == vocab.Quantity && a.Property == b.Property {
				e.paired[a.Index] = true
				e.joint[[2]int{a.Index, b.Index}] = joint{key: e.key([]kb.Atom{{Observable: a, Feature: -1},
					{Observable: b, Feature: -1}}), name: a.Name + " + " + b.Name}
			}
		}
	}
}

func (e *Engine) prepareRule(r *kb.Rule) ruleLine {
	l := ruleLine{rule: r, family: e.family(r.Family), c: e.numbers(), exclude: e.newSet()}
	if l.key = e.numbered("rule " + r.ID); len(r.Basis) > 0 {
		l.key = e.key(r.Basis)
	}
	for _, w := range r.Weights {
		c := math.Log(w.Ratio)
		for _, i := range w.Leaves {
			l.c[i] = further(l.c[i], c)
		}
		if w.Unlisted {
			l.unlisted = further(l.unlisted, c)
		}
	}
	if r.Excludes != nil {
		for _, i := range r.Excludes.Leaves {
			l.exclude.add(i)
		}
	}
	for _, o := range r.Observes {
		y := e.Ruleset.Vocabulary.Yield(o.Test, o)
		l.declared = math.Max(l.declared, y.Blunder)
		l.tests.Add(e.tests[o.Test])
	}
	return l
}

// speaks tells whether the rule says anything of any leaf: a "where" can name none.
func (l *ruleLine) speaks() bool {
	return l.unlisted != 0 || !l.exclude.empty() || slices.ContainsFunc(l.c, func(c float64) bool { return c != 0 })
}

// further is whichever of two contributions is further from 0; of two alike the negative one.
func further(a, b float64) float64 {
	x, y := math.Abs(a), math.Abs(b)
	switch {
	case math.Abs(x-y) <= 1e-14*x: // ln r and ln 1/r can differ in the last figure
		return math.Min(a, b)
	case x > y:
		return a
	}
	return b
}

// key is the number by which what rests on the same readings is known.
func (e *Engine) key(atoms []kb.Atom) int {
	var b strings.Builder
	for _, a := range atoms {
		b.WriteString(strconv.Itoa(a.Observable.Index) + "." + strconv.Itoa(a.Feature) + " ")
	}
	return e.numbered(b.String())
}

func (e *Engine) numbered(text string) int {
	n, ok := e.keys[text]
	if !ok {
		n = len(e.keys)
		e.keys[text] = n
	}
	return n
}
