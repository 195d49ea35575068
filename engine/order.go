package engine

import "slices"

// strongest is the group that spreads the leaves without exclusion most; of two alike the first by name. What is
// unlisted stands among them with a contribution of 0, whatever rules say of it: so that with a single material left
// the strongest evidence still comes first, and not whatever is first by name.
func (j *Judge) strongest(w *weights, f *familyWeight) int {
	if len(f.groups) < 2 {
		return 0
	}
	best, most := 0, j.spread(w, &f.groups[0])
	for n := 1; n < len(f.groups); n++ {
		g := &f.groups[n]
		if g.says.whole && most-g.says.span > 1e-12*most {
			continue // even with all leaves open it would spread them less
		}
		if spread := j.spread(w, g); j.before(g, &f.groups[best], spread, most) {
			best, most = n, spread
		}
	}
	return best
}

// spread is how far what a group says of the leaves without exclusion lies apart.
func (j *Judge) spread(w *weights, g *group) float64 {
	lo, hi := 0.0, 0.0
	if g.says.whole {
		lo, hi = g.says.levels.reach(w.excluded)
	} else {
		for _, i := range w.open {
			if c := g.says.c[i]; c < lo {
				lo = c
			} else if c > hi {
				hi = c
			}
		}
	}
	if spread := hi - lo; spread >= 1e-12 {
		return spread
	}
	return 0 // where a contribution should be 0, rounding leaves less
}

// before tells whether a group that spreads the leaves so far counts before another; of two alike, whether it is the
// first by name.
func (j *Judge) before(g, o *group, spread, other float64) bool {
	// This is falling, for numbers of which none is below zero.
	switch d := spread - other; {
	case d > 1e-12*spread:
		return true
	case -d > 1e-12*other:
		return false
	case g.rank == o.rank: // lines that may be one of several share a rank
		return j.items[g.first].name < j.items[o.first].name
	}
	return g.rank < o.rank
}

// inOrder are the places of a family's groups in the order in which they count.
func (j *Judge) inOrder(f *familyWeight) []int {
	order, spreads := make([]int, len(f.groups)), make([]float64, len(f.groups))
	for n := range order {
		order[n], spreads[n] = n, j.spread(&j.w, &f.groups[n])
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch g, o := &f.groups[a], &f.groups[b]; {
		case j.before(g, o, spreads[a], spreads[b]):
			return -1
		case j.before(o, g, spreads[b], spreads[a]):
			return 1
		}
		return 0
	})
	return order
}

// countsInFull is the group of a family, whose groups count in an order, that counts in full for a leaf: of several
// that exclude it alike the first.
func (j *Judge) countsInFull(fw *familyWeight, order []int, i int) int {
	full, lowest, excluded := order[0], 0.0, false
	for _, n := range order {
		if c, out := j.groupC(&fw.groups[n], i); out && (!excluded || c < lowest) {
			full, lowest, excluded = n, c, true
		}
	}
	return full
}
