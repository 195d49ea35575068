package engine

import (
	"math"
	"math/bits"
	"slices"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/vocab"
)

// A sheet may say that one quantity goes with another, as density does with the index within a series. Where both were
// read, the reading is held against what that leaves of the flat range, and not against the flat range, which the
// sheet's line is silent of then. What comes of it counts in the family of the quantity that is narrowed, and rests on
// both readings, as a rule that names both would: with the larger blunder rate, and by the tests of both, so that no
// mistaken reading finishes a material off by itself. What the flat range excludes by itself, it still does.
//
// Nothing of it is kept from one case to the next, as it hangs on two readings. A case of which no leaf in question is
// left by the flat range goes the way of a case without.

// relating is what the sheets say of a quantity by another, by leaf.
type relating struct {
	by     *vocab.Observable
	of     []*kb.Relation // nil: nothing
	leaves leafSet
}

// prepareRelations gathers, for a quantity's line, what it goes by.
func (e *Engine) prepareRelations(l *line) {
	for i, m := range e.Ruleset.Leaves {
		r := m.Relations[l.observable.Property]
		if r == nil {
			continue
		}
		n := slices.IndexFunc(l.relations, func(x relating) bool { return x.by == r.By })
		if n < 0 {
			n = len(l.relations)
			l.relations = append(l.relations, relating{by: r.By, of: make([]*kb.Relation, e.leaves),
				leaves: e.newSet()})
		}
		l.relations[n].of[i] = r
		l.relations[n].leaves.add(i)
	}
	e.relates = e.relates || len(l.relations) > 0
}

// band is what relations leave of a quantity's ranges in one case: a line that speaks of the leaves whose range is
// narrowed.
type band struct {
	line   line
	ranges []kb.Range
	speaks leafSet
}

// relate narrows what the quantities that were read say by what was read beside them. The items of readings are there,
// and no others.
func (j *Judge) relate(c *casefile.Case) {
	j.bandsUsed = 0
	if !j.e.relates {
		return
	}
	for n := range len(j.items) {
		if l := j.items[n].q.line; l != nil {
			for k := range l.relations {
				j.narrowBy(n, &l.relations[k], c)
			}
		}
	}
}

// narrowBy makes an item for the leaves whose range a relation narrows, and hushes the n-th item about them.
func (j *Judge) narrowBy(n int, by *relating, c *casefile.Case) {
	if by.leaves.within(j.items[n].excludes) {
		return
	}
	first := j.goesBy(c, by.by)
	if len(first) == 0 {
		return
	}
	b := j.nextBand()
	for k, word := range by.leaves {
		for left := word &^ j.items[n].excludes[k]; left != 0; left &= left - 1 {
			i := k<<6 + bits.TrailingZeros64(left)
			b.put(j.leaf(i), by.of[i], first, j.items[n].q.line.ranges[i])
		}
	}
	if b.speaks.empty() {
		j.bandsUsed--
		return
	}
	j.hush(n, b.speaks)
	it := j.newItem()
	flat := &j.items[n] // after newItem, which may have moved it
	v, own := it.vector, it.own
	*own.q = *flat.q
	own.q.line = &b.line
	*it, *v = *flat, *flat.vector
	it.vector, it.first, it.hushed = v, first, b.line.untold
	v.ownAlone(own)
	v.base, v.excludes, v.q = nil, own.excludes, own.q
	for _, r := range first {
		it.blunder = math.Max(it.blunder, r.Blunder)
		for _, t := range r.Tests {
			it.tests.Add(j.e.tests[t])
		}
	}
	j.exclude(it)
}

// goesBy are the readings of a quantity that count, in all places.
func (j *Judge) goesBy(c *casefile.Case, o *vocab.Observable) (out []*casefile.Reading) {
	for _, r := range c.Readings {
		if r.Observable == o && j.counts(r) {
			out = append(out, r)
		}
	}
	return out
}

// put lets a band speak of a leaf, if what was read leaves less than its flat range.
func (b *band) put(m *kb.Material, r *kb.Relation, first []*casefile.Reading, flat *kb.Range) {
	low, high := math.Inf(1), math.Inf(-1)
	for _, reading := range first {
		l, h := reach(reading, m, r)
		low, high = math.Min(low, l), math.Max(high, h)
	}
	lo, hi := r.Narrow(flat, low, high)
	if lo == flat.Low && hi == flat.High {
		return
	}
	i := m.Index
	b.ranges[i] = kb.Range{Low: lo, High: hi, Tolerance: flat.Tolerance, Source: r.Source, SaidBy: r.SaidBy,
		Span: r.Span, Derived: "by " + r.By.Name}
	if flat.Typical != nil {
		b.ranges[i].Typical = clip(*flat.Typical, lo, hi)
	}
	b.speaks.add(i)
	b.line.untold[i>>6] &^= 1 << (i & 63)
	b.line.ranges[i] = &b.ranges[i]
	b.line.reach = extend(b.line.reach)
	x := &b.line.reach[len(b.line.reach)-1]
	if x.leaves == nil {
		x.leaves = make(leafSet, len(b.speaks))
	}
	clear(x.leaves)
	x.leaves.add(i)
	x.low, x.high, x.tolerance = lo, hi, flat.Tolerance
}

// reach is where a quantity lies, by one reading of it: within two standard uncertainties of what was read.
func reach(r *casefile.Reading, m *kb.Material, rel *kb.Relation) (low, high float64) {
	switch {
	case r.Form == casefile.Interval:
		return m.Reach(rel, r.Lo-2*r.Noise, r.Hi+2*r.Noise)
	case r.Form == casefile.Value || rel.Ray == "":
		return m.Reach(rel, r.Value-2*r.U, r.Value+2*r.U)
	case rel.Ray == kb.LowRay:
		return r.Value - 2*r.U, r.Value + 2*r.U
	case rel.Ray == kb.HighRay:
		return r.High - 2*r.HighU, r.High + 2*r.HighU
	}
	mean, u := (r.Value+r.High)/2, math.Hypot(r.U, r.HighU)/2
	return mean - 2*u, mean + 2*u
}

// nextBand takes a band that speaks of nothing.
func (j *Judge) nextBand() *band {
	if j.bandsUsed == len(j.bands) {
		j.bands = append(j.bands, j.e.newBand())
	}
	b := j.bands[j.bandsUsed]
	j.bandsUsed++
	for k, word := range b.speaks {
		for ; word != 0; word &= word - 1 {
			b.hush(k<<6 + bits.TrailingZeros64(word))
		}
	}
	clear(b.speaks)
	b.line.reach = b.line.reach[:0]
	return b
}

func (e *Engine) newBand() *band {
	b := &band{ranges: make([]kb.Range, e.leaves), speaks: e.newSet()}
	b.line = line{ranges: make([]*kb.Range, e.leaves), untold: e.newSet()}
	for i := range e.leaves {
		b.hush(i)
	}
	return b
}

func (b *band) hush(i int) {
	b.line.ranges[i] = nil
	b.line.untold.add(i)
}

// ownAlone lets what a vector says be its own, and nothing that is kept.
func (v *vector) ownAlone(own *memory) {
	clear(own.known)
	v.own, v.c, v.known, v.kept, v.whole, v.levels, v.follows = own, own.c, own.known, false, false, nil, follows{}
}

// hush lets an item say nothing of some leaves. What is kept of its reading stays as it is, and is looked up for the
// other leaves.
func (j *Judge) hush(n int, leaves leafSet) {
	if j.items[n].kept {
		v := j.newItem().vector
		j.items = j.items[:len(j.items)-1]
		own, kept := v.own, j.items[n].vector
		*v = *kept
		v.ownAlone(own)
		v.base = kept
		j.items[n].vector = v
	}
	it := &j.items[n]
	it.apart = true
	if it.hushed != nil { // by another relation
		leaves = slices.Clone(leaves)
		for k, word := range it.hushed {
			leaves[k] |= word
		}
	}
	it.hushed = leaves
	for k, word := range leaves {
		it.known[k] |= word
		for ; word != 0; word &= word - 1 {
			it.c[k<<6+bits.TrailingZeros64(word)] = 0
		}
	}
}

// silent tells whether another item on the same readings speaks of a leaf, or of what the ruleset lacks, in an item's
// place.
func (it *item) silent(leaf int) bool {
	if leaf == Unlisted {
		return it.first != nil
	}
	return it.hushed != nil && it.hushed.has(leaf)
}

// restsOn tells whether what an item says of a leaf rests on a reading.
func (it *item) restsOn(r *casefile.Reading, leaf int) bool {
	return (it.reading == r || it.second == r || slices.Contains(it.first, r)) && !it.silent(leaf)
}
