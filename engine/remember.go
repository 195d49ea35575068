package engine

import (
	"math"

	"whystone/kb/casefile"
)

// What a reading says of the leaves is the same in every case. Where readings bear the numbers of a casefile.Skimmer, a judge
// can keep their items, and what was computed of each for one leaf or another.

// Remember makes the judge keep the items of readings that bear a number. All cases from then on must come from one skimmer.
func (j *Judge) Remember() { j.kept, j.eye = make([][]*item, 1), nil }

// recalled takes the item that a reading made before, under a number of the reading's own; nil when it made none.
func (j *Judge) recalled(r *casefile.Reading, n int) *item {
	if r.Known == 0 || r.Known >= len(j.kept) || n >= len(j.kept[r.Known]) || j.kept[r.Known][n] == nil {
		return nil
	}
	it := j.nextItem()
	own := it.own
	*it = *j.kept[r.Known][n]
	it.own, it.reading, it.from = own, r, j.kept[r.Known][n]
	return it
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
	whole := *it
	j.kept[r.Known][n] = &whole
	it.own = memory{}
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
	of := it.from
	if of == nil {
		return nil
	}
	if of.ratios == nil {
		of.ratios = make([]float64, j.e.leaves)
		for i := range of.ratios {
			of.ratios[i] = math.Exp(j.fill(of, i))
		}
	}
	return of.ratios
}
