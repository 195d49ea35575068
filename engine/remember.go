package engine

import (
	"math"
	"slices"

	"whystone/kb/casefile"
)

// What a reading says of the leaves is the same in every case. Where readings bear the numbers of a casefile.Skimmer, a
// judge keeps their vectors, and what was computed of each for one leaf or another; those of rules it keeps anyhow.

// rests is what the vectors of a reading depend on beside the ruleset: the reading alone, by its number. Vectors are
// kept under what this returns; whoever lets one depend on another reading too says so here. Not ok: it is not to be
// kept.
func (j *Judge) rests(r *casefile.Reading) (on int, ok bool) {
	return r.Known, r.Known != 0 && j.vectors != nil
}

// follows is what follows from a vector that is kept, as far as it was wanted.
type follows struct {
	ratios []float64 // exp(c)
	// Whether it doubles the odds of a nameable node by itself, and of which nodes that was asked.
	doubles, asked nodeSet
}

// levels are the values that a vector says, rising, each with its leaves: as frequencies are a few words, there are
// few. A level is the bits of a number and, behind it, those of a leafSet.
type levels []uint64

// Remember makes the judge keep what readings that bear a number say. All cases from then on must come from one
// skimmer.
func (j *Judge) Remember() { j.vectors = make([]kept, 1) }

// kept are the vectors of a reading, by numbers of its own: most have the first alone.
type kept struct {
	first *vector
	more  []*vector
}

func (k *kept) at(n int) *vector {
	switch {
	case n == 0:
		return k.first
	case n <= len(k.more):
		return k.more[n-1]
	}
	return nil
}

func (k *kept) put(n int, v *vector) {
	if n == 0 {
		k.first = v
		return
	}
	for len(k.more) < n {
		k.more = append(k.more, nil)
	}
	k.more[n-1] = v
}

// recall is what is kept of a reading.
func (j *Judge) recall(r *casefile.Reading) *kept {
	if on, ok := j.rests(r); ok && on < len(j.vectors) {
		return &j.vectors[on]
	}
	return &nothing
}

var nothing kept

// recalled takes the vector that a reading made before, under a number of the reading's own, if it made one. One that
// says nothing is left out.
func (j *Judge) recalled(r *casefile.Reading, n int) bool {
	v := j.recall(r).at(n)
	// of two rays the second item is told by its place behind the first
	if v == nil || v.none && r.Form != casefile.Pair {
		return v != nil
	}
	j.put(v).reading = r
	return true
}

// keep keeps an item's vector with its memory, for which the next case gets another.
func (j *Judge) keep(it *item, r *casefile.Reading, n int) {
	on, ok := j.rests(r)
	if !ok {
		return
	}
	for len(j.vectors) <= on {
		j.vectors = append(j.vectors, kept{})
	}
	j.vectors[on].put(n, j.hold(it))
}

// hold keeps the vector that was made last.
func (j *Judge) hold(it *item) *vector {
	v := it.vector
	j.spare[j.used-1] = &vector{own: j.e.newMemory()}
	v.kept, v.whole = true, v.q.line == nil && !v.none
	if v.whole {
		v.layOut(j.e)
	}
	return v
}

// mostOfRule bounds how many vectors of a rule are kept: its readings come by few tests.
const mostOfRule = 8

// ruleVector is what a rule that rests on readings by some tests, with some blunder rate, was found to say; nil:
// nothing yet.
func (j *Judge) ruleVector(at int, blunder float64, tests testSet) *vector {
	if j.ofRules == nil {
		j.ofRules = make([][]*vector, len(j.e.evidence))
	}
	for _, v := range j.ofRules[at] {
		if v.blunder == blunder && v.tests == tests {
			return v
		}
	}
	return nil
}

func (j *Judge) keepRule(at int, it *item) {
	if len(j.ofRules[at]) < mostOfRule {
		j.ofRules[at] = append(j.ofRules[at], j.hold(it))
	}
}

// layOut finds the levels of a vector, and puts beside them what it excludes.
func (v *vector) layOut(e *Engine) {
	var values []float64
	for _, c := range v.c[:e.leaves] {
		if at, ok := slices.BinarySearch(values, c); !ok {
			values = slices.Insert(values, at, c)
		}
	}
	size := 1 + e.words
	together := append(make([]uint64, 0, e.words+size*len(values)), v.excludes...)
	for _, x := range values {
		leaves := e.newSet()
		for i, c := range v.c[:e.leaves] {
			if c == x {
				leaves.add(i)
			}
		}
		together = append(append(together, math.Float64bits(x)), leaves...)
	}
	v.excludes, v.levels = together[:e.words:e.words], together[e.words:]
	v.span = max(values[len(values)-1], 0) - min(values[0], 0)
}

// reach is the lowest and the highest of 0 and what a vector says of the leaves that are not excluded.
func (l levels) reach(excluded leafSet) (lo, hi float64) {
	size := 1 + len(excluded)
	for at := 0; at < len(l); at += size {
		if c := math.Float64frombits(l[at]); c >= 0 {
			break
		} else if beyond(l[at+1:at+size], excluded) {
			lo = c
			break
		}
	}
	for at := len(l) - size; at >= 0; at -= size {
		if c := math.Float64frombits(l[at]); c <= 0 {
			break
		} else if beyond(l[at+1:at+size], excluded) {
			hi = c
			break
		}
	}
	return lo, hi
}

// beyond tells whether a set holds a leaf that is not excluded.
func beyond(set []uint64, excluded leafSet) bool {
	for w, out := range excluded {
		if set[w]&^out != 0 {
			return true
		}
	}
	return false
}

// ratios are exp of what a vector says of each leaf, kept with it; nil where it is not kept, or there is none.
func (j *Judge) ratios(it *item) []float64 {
	if it == nil || !it.kept {
		return nil
	}
	if it.ratios == nil {
		it.ratios = make([]float64, j.e.leaves)
		for i := range it.ratios {
			it.ratios[i] = math.Exp(j.fill(it.vector, i))
		}
	}
	return it.ratios
}
