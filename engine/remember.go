package engine

import "whystone/kb/casefile"

// What a reading says of the leaves is the same in every case. Where readings bear the numbers of a casefile.Skimmer, a judge
// can keep their items, and what was computed of each for one leaf or another.

// Remember makes the judge keep the items of readings that bear a number. All cases from then on must come from one skimmer.
func (j *Judge) Remember() { j.kept = make([][]*item, 1) }

// recalled takes the item that a reading made before, under a number of the reading's own; nil when it made none.
func (j *Judge) recalled(r *casefile.Reading, n int) *item {
	if r.Known == 0 || r.Known >= len(j.kept) || n >= len(j.kept[r.Known]) || j.kept[r.Known][n] == nil {
		return nil
	}
	it := j.nextItem()
	own := it.own
	*it = *j.kept[r.Known][n]
	it.own, it.reading = own, r
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
