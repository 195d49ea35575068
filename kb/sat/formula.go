// Package sat decides what conditions can be true of: whether one can hold at all, whether it can fail, whether two can
// hold of one stone, whether one holds wherever another does.
//
// A condition is three-valued, so it stands here as two two-valued formulas: when it holds, and when it fails. Both are
// made of literals, each of which looks at one thing of a case (a dimension): the upper end of a quantity's interval
// lies below a cut, the choices that a reading leaves open lie within a set, a feature was seen, a reading is there at
// all. Facts are replaced by the conditions of the rules that establish them, and a reading that rules may set aside
// counts only where none of them fires.
//
// A conjunction of literals is a box: in each dimension they come to one constraint, and since the constraints of a
// dimension are convex (the lower end of an interval is at least ..., the open choices lie within ...), each dimension
// decides by itself whether anything is left. A formula is a union of boxes, and [Space.Satisfy] looks for one by
// branching on disjunctions, with what is settled taken out first. So the answers are exact for the evaluator's own
// meaning, uncertain readings included, within the analysable fragment: comparisons of a quantity with a number,
// choices, features, truths, words, seen and unclear, facts, and or not. Arithmetic on several readings and text
// patterns lie outside: such a leaf is a dimension of its own that may be anything ([Space.Outside] tells them), so
// that "can never hold" stays right, and a box that leans on one says so ([Box.Sure]).
//
// The idea of rules as boxes is that of Calvanese, Dumas, Laurson, Maggi, Montali and Teinemaa, "Semantics, analysis
// and simplification of DMN decision tables", 2018 (from memory).
package sat

import (
	"slices"

	"whystone/kb/english"
)

type op uint8

const (
	opTrue op = iota
	opFalse
	opLiteral
	opAnd
	opOr
)

// Formula is a two-valued statement about a case, without negations but at its literals. Its parts are shared: facts
// that rest on facts would make it grow without bound otherwise. Immutable, but for its negation, which is kept once
// made.
type Formula struct {
	op       op
	kids     []*Formula
	lit      literal
	opposite *Formula
}

// True and False are the constant formulas.
var (
	True  = &Formula{op: opTrue}
	False = &Formula{op: opFalse}
)

// And holds when all do.
func And(kids ...*Formula) *Formula { return join(opAnd, True, False, kids) }

// Or holds when one does.
func Or(kids ...*Formula) *Formula { return join(opOr, False, True, kids) }

// join flattens and drops what decides nothing, and what it has already.
func join(as op, neutral, absorbing *Formula, kids []*Formula) *Formula {
	var flat []*Formula
	for _, k := range kids {
		switch k.op {
		case absorbing.op:
			return absorbing
		case neutral.op:
		case as:
			flat = append(flat, k.kids...)
		default:
			flat = append(flat, k)
		}
	}
	flat = once(flat)
	switch len(flat) {
	case 0:
		return neutral
	case 1:
		return flat[0]
	}
	return &Formula{op: as, kids: flat}
}

// once is a list without repeats, in its order.
func once(list []*Formula) []*Formula {
	known := make(map[*Formula]bool, len(list))
	return slices.DeleteFunc(list, func(f *Formula) bool {
		again := known[f]
		known[f] = true
		return again
	})
}

// Not holds when f does not.
func Not(f *Formula) *Formula {
	switch f.op {
	case opTrue:
		return False
	case opFalse:
		return True
	}
	if f.opposite == nil {
		f.opposite = f.negation()
		f.opposite.opposite = f
	}
	return f.opposite
}

func (f *Formula) negation() *Formula {
	if f.op == opLiteral {
		l := f.lit
		l.not = !l.not
		return lit(l)
	}
	out := &Formula{op: opAnd, kids: english.Each(f.kids, Not)}
	if f.op == opAnd {
		out.op = opOr
	}
	return out
}

// ask is what a literal asks of its dimension. All but ready and unclear ask for a reading that is there.
type ask uint8

const (
	ready     ask = iota // a usable reading was made
	unclear              // it was tried, and stayed open
	hiBelow              // quantity: upper end < cut
	hiAtMost             // upper end <= cut
	loAtLeast            // lower end >= cut
	loAbove              // lower end > cut
	inside               // choice: what the reading leaves open lies within mask
	outside              // choice: what it leaves open has nothing of mask
	seen                 // features: the feature was seen
	unseen               // features: it was looked for and not seen
	holds                // truth
	fails                // truth
	among                // text: one of words
	besides              // text: none of words
)

type literal struct {
	dim     int
	ask     ask
	not     bool
	cut     float64
	mask    uint64
	feature int
	words   []string
}

func lit(l literal) *Formula { return &Formula{op: opLiteral, lit: l} }
