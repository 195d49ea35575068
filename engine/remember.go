package engine

import (
	"math"
	"slices"

	"whystone/kb/casefile"
)

// What a reading says of the leaves is the same in every case. Where readings bear the numbers of a casefile.Skimmer, a judge
// keeps their items, and what was computed of each for one leaf or another.

// kept is an item that is kept.
type kept struct {
	item
	// Of what is no quantity and so is known for every leaf: the leaves of which it says something, and, as frequencies are a few
	// words, the values that it says, rising, each with its leaves.
	whole   bool
	touches []int
	levels  []float64
	at      []uint64  // the leaves of each level, a leafSet behind the other
	ratios  []float64 // exp(c), once it was wanted
}

// Remember makes the judge keep the items of readings that bear a number. All cases from then on must come from one skimmer.
func (j *Judge) Remember() { j.kept, j.eye = make([][]*kept, 1), nil }

// recalled takes the item that a reading made before, under a number of the reading's own, if it made one. One that says nothing
// is left out.
func (j *Judge) recalled(r *casefile.Reading, n int) bool {
	if r.Known >= len(j.kept) || n >= len(j.kept[r.Known]) {
		return false
	}
	k := j.kept[r.Known][n]
	if k == nil || k.none && r.Form != casefile.Pair { // of two rays the second item is told by its place behind the first
		return k != nil
	}
	it := j.nextItem()
	own := it.own
	*it = k.item
	it.own, it.reading, it.from = own, r, k
	return true
}

// keep keeps an item with its memory, for which the next case gets other memory.
func (j *Judge) keep(it *item, r *casefile.Reading, n int) {
	if r.Known == 0 || j.kept == nil {
		return
	}
	for len(j.kept) <= r.Known {
		j.kept = append(j.kept, nil)
	}
	for len(j.kept[r.Known]) <= n {
		j.kept[r.Known] = append(j.kept[r.Known], nil)
	}
	k := &kept{item: *it, whole: it.q.line == nil && !it.none}
	j.kept[r.Known][n] = k
	it.own, it.from = nil, k
	if k.whole {
		k.layOut(j.e)
	}
}

// layOut finds the leaves that an item touches, and its levels.
func (k *kept) layOut(e *Engine) {
	for i, c := range k.c {
		if c != 0 {
			k.touches = append(k.touches, i)
		}
		if at, ok := slices.BinarySearch(k.levels, c); !ok {
			k.levels = slices.Insert(k.levels, at, c)
		}
	}
	k.at = make([]uint64, len(k.levels)*e.words)
	for i, c := range k.c {
		at, _ := slices.BinarySearch(k.levels, c)
		leafSet(k.at[at*e.words:]).add(i)
	}
}

// reach is the lowest and the highest of 0 and what an item says of the leaves that are not excluded.
func (k *kept) reach(excluded leafSet) (lo, hi float64) {
	for i := 0; i < len(k.levels) && k.levels[i] < 0; i++ {
		if k.beyond(i, excluded) {
			lo = k.levels[i]
			break
		}
	}
	for i := len(k.levels) - 1; i >= 0 && k.levels[i] > 0; i-- {
		if k.beyond(i, excluded) {
			hi = k.levels[i]
			break
		}
	}
	return lo, hi
}

// beyond tells whether a level holds a leaf that is not excluded.
func (k *kept) beyond(level int, excluded leafSet) bool {
	for w, out := range excluded {
		if k.at[level*len(excluded)+w]&^out != 0 {
			return true
		}
	}
	return false
}

// seenByEye is byEye, kept too.
func (j *Judge) seenByEye(r *casefile.Reading) bool {
	if r.Known == 0 || j.kept == nil {
		return j.byEye(r)
	}
	for len(j.eye) <= r.Known {
		j.eye = append(j.eye, 0)
	}
	if j.eye[r.Known] == 0 {
		j.eye[r.Known] = 1
		if j.byEye(r) {
			j.eye[r.Known] = 2
		}
	}
	return j.eye[r.Known] == 2
}

// ratios are exp of what an item says of each leaf, kept where the item is; nil where it is not.
func (j *Judge) ratios(it *item) []float64 {
	k := it.from
	if k != nil && k.ratios == nil {
		k.ratios = make([]float64, j.e.leaves)
		for i := range k.ratios {
			k.ratios[i] = math.Exp(j.fill(&k.item, i))
		}
	}
	if k == nil {
		return nil
	}
	return k.ratios
}
