package proofread

import (
	"slices"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/english"
	"whystone/kb/sat"
	"whystone/kb/vocab"
)

// axis is a column of a table as a line of places, such that a cell can't tell what lies at one place apart:
//
//	quantity  the numbers that cells name, and what lies between, below and beyond them
//	choice    the choices
//	truth     false, true
//	features  the features that cells name, one at a time
//	text      the words that cells name
//
// Features count singly: a stone that shows two of them meets the rows of both, as it should, and one that shows none
// asks nothing of the table. A text may be any word, and no table is made to answer all. A column whose cells are not
// analysed, or are all "any", has one place.
type axis struct {
	column *kb.Column
	space  *sat.Space
	size   int
	places []float64 // of a quantity: what cells name; else empty
	words  []string  // otherwise: what is at a place
	named  []int     // of features: which is at a place
	opaque bool      // what cells ask is not analysed
}

// newAxis makes a column's axis from what its cells ask.
func newAxis(space *sat.Space, t *kb.Table, rows []*kb.TableRow, at int) *axis {
	x := &axis{column: &t.Columns[at], space: space, size: 1}
	x.opaque = x.column.Slot < 0 // a definition: it looks at several things
	for _, r := range rows {
		if c := r.Cells[at].If; c != nil && !x.opaque {
			for _, n := range c.Leaves() {
				x.take(n.Leaf)
			}
		}
	}
	x.places = slices.Compact(slices.Sorted(slices.Values(x.places)))
	x.named = slices.Compact(slices.Sorted(slices.Values(x.named)))
	switch x.column.Kind {
	case vocab.Quantity:
		x.size = 2*len(x.places) + 1
	case vocab.Choice:
		x.words = choices(x.column.Symbol)
		x.size = len(x.words)
	case vocab.Truth:
		x.size, x.words = 2, []string{"false", "true"}
	case vocab.Features:
		x.words = english.Each(x.named, func(f int) string { return x.column.Observable.Outcomes[f].Name })
		x.size = max(len(x.words), 1)
	case vocab.Text:
		x.words = slices.Compact(slices.Sorted(slices.Values(x.words)))
		x.size = max(len(x.words), 1)
	}
	return x
}

// take makes room for what a leaf of a cell asks.
func (x *axis) take(l *condition.Leaf) {
	if _, outside := x.space.Outside(l); outside {
		x.opaque = true
		return
	}
	switch l.Kind {
	case condition.Below, condition.AtMost:
		x.places = append(x.places, l.Cut)
	case condition.Contains:
		x.named = append(x.named, l.Feature)
	case condition.Matches:
		x.words = append(x.words, l.Words...)
	}
}

// choices are the words of a choice, by their bit.
func choices(s *condition.Symbol) []string {
	if s.Observable == nil {
		return s.Words
	}
	return s.Observable.Words()
}

// all are the places where something may lie: not those of choices that stand for several others.
func (x *axis) all() spans {
	if x.column.Kind != vocab.Choice || x.column.Observable == nil {
		return run(0, x.size)
	}
	var mask uint64
	for i := range x.words {
		mask |= x.column.Observable.Meaning(i)
	}
	return x.of(mask)
}

func (x *axis) of(mask uint64) (out spans) {
	for i := range x.size {
		if mask>>i&1 == 1 {
			out = out.or(run(i, i+1))
		}
	}
	return out
}

// takes is where a part of a cell is met.
func (x *axis) takes(n *condition.Node) spans {
	switch n.Op {
	case condition.Always:
		if n.Value {
			return x.all()
		}
		return nil
	case condition.Leafed:
		return x.leaf(n.Leaf)
	case condition.Not:
		return x.takes(n.Kids[0]).not(x.size).and(x.all())
	}
	out := x.takes(n.Kids[0])
	for _, k := range n.Kids[1:] {
		if n.Op == condition.And {
			out = out.and(x.takes(k))
		} else {
			out = out.or(x.takes(k))
		}
	}
	return out
}

func (x *axis) leaf(l *condition.Leaf) (out spans) {
	switch l.Kind {
	case condition.Below, condition.AtMost:
		i, _ := slices.BinarySearch(x.places, l.Cut)
		if l.Kind == condition.AtMost {
			return run(0, 2*i+2)
		}
		return run(0, 2*i+1)
	case condition.Within:
		return x.of(l.Mask)
	case condition.Contains:
		i, _ := slices.BinarySearch(x.named, l.Feature)
		return run(i, i+1)
	case condition.True:
		return run(1, 2)
	case condition.Matches:
		for _, w := range l.Words {
			i, _ := slices.BinarySearch(x.words, w)
			out = out.or(run(i, i+1))
		}
		return out
	}
	return x.all()
}

// wordsAt are the words at some places of what is no quantity.
func (x *axis) wordsAt(at spans) []string {
	return english.Each(at.members(), func(i int) string { return x.words[i] })
}

// ordered tells whether what lies between two places is between them for a reader, too.
func (x *axis) ordered() bool { return x.column.Kind == vocab.Quantity }
