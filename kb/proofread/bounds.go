package proofread

import (
	"fmt"
	"math"
	"strings"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/vocab"
)

var (
	noSuchStone = diag.New("no-such-stone", "A condition asks for a stone of a size that none at a desk has.",
		`A weight or a length is asked for that no stone at a desk has: more than 1,000 ct or 200 mm, less than 0.001 ct or 0.2 mm.
Mostly it is in another unit (carats of 0.2 g, millimetres), or has a digit too many.`)
	finerThanRead = diag.New("finer-than-read", "A condition asks for more than any test of the house can tell.",
		`A condition holds of a quantity only where all of its interval, two standard uncertainties either way, lies within. A band that is
narrower than the finest test's interval is never met by what that test reads, and a threshold with more digits than its uncertainty
has meaning promises what nobody can read. The figures are those of the tests' sheets and of the house's instruments.`)
	nearSwapped = diag.New("near-swapped", "The value and the tolerance of near(...) have perhaps changed places.",
		`near(x, value, tolerance) says how near x is to a value. Here the tolerance is many times the value, or the value is none that
x can have.`)
	unknownClaim = diag.New("unknown-claim",
		"A condition asks for a claim that is nearly a known one, and means no material here.",
		`A condition compares the claim with a word that is no name of a material or group, and none of the policy's claims. A case may
claim anything, so that such a word can be meant; one that is nearly a known one is probably misspelt.`)
)

func init() {
	Register(Check{Order: 11, Look: bounds, Finds: []diag.Code{noSuchStone, finerThanRead, nearSwapped, unknownClaim}})
}

// bounds looks at what conditions ask for, leaf by leaf: sizes, widths, words.
func bounds(p *Pass) {
	for _, r := range p.Ruleset.Order {
		for _, part := range conditionsOf(r) {
			b := bounder{Pass: p, rule: r, key: part.key, c: part.c}
			for _, n := range part.c.Leaves() {
				b.leaf(n)
			}
			b.bands(part.c.Root)
		}
	}
}

type keyed struct {
	key string
	c   *condition.Condition
}

// conditionsOf are a rule's conditions with the keys under which they stand.
func conditionsOf(r *kb.Rule) (out []keyed) {
	for _, k := range []keyed{{"if", r.If}, {"unless", r.Unless}, {kb.UntilKey, r.WithheldUntil()}} {
		if k.c != nil {
			out = append(out, k)
		}
	}
	return out
}

// bounder looks at one condition.
type bounder struct {
	*Pass
	rule *kb.Rule
	key  string
	c    *condition.Condition
}

// tell warns of a part of the condition.
func (b bounder) tell(code diag.Code, n *condition.Node, format string, args ...any) *Finding {
	return b.about(b.rule, b.key, warning(code, b.rule.Part(b.key, n.Start, n.End), format, args...))
}

// sizes are those that stones at a desk have, by property: common practice.
var sizes = map[string]struct {
	low, high float64
	unit      string
}{"carat": {0.001, 1000, "ct"}, "length_mm": {0.2, 200, "mm"}, "width_mm": {0.2, 200, "mm"},
	"depth_mm": {0.2, 200, "mm"}}

func (b bounder) leaf(n *condition.Node) {
	l := n.Leaf
	switch l.Kind {
	case condition.Below, condition.AtMost:
		sym := b.Ruleset.Scope.At(l.Slot)
		name, isStone := strings.CutPrefix(sym.Name, "stone.")
		size, known := sizes[name]
		switch {
		case isStone && known && (l.Cut > size.high || l.Cut > 0 && l.Cut < size.low):
			b.tell(noSuchStone, n, "%q asks for a stone of %g %s", b.rule.ID, l.Cut, size.unit).Detail = fmt.Sprintf(
				"Stones at a desk have %g to %g %s. Is the number in another unit, or has it a digit too many?",
				size.low, size.high, size.unit)
		case sym.Observable != nil:
			b.digits(n, sym.Observable)
		}
	case condition.Matches:
		if b.Ruleset.Scope.At(l.Slot).Name != "claim" {
			return
		}
		for _, w := range l.Words {
			if b.Ruleset.Claim(w) != nil {
				continue
			}
			near := diag.Slip(w, b.Ruleset.ClaimWords())
			if near == "" {
				continue // a case may claim anything
			}
			f := b.tell(unknownClaim, n, "%q asks for the claim %q, which means no material here", b.rule.ID, w)
			f.Nearest, f.Detail = near, "Correct the word; or, if the trade says so, write it under also: on the "+
				"sheet of what it means, or in the policy's claims."
		}
	}
}

// finest is the smallest standard uncertainty that a test or an instrument of the house has for an observable.
func (p *Pass) finest(o *vocab.Observable) float64 {
	u := math.Inf(1)
	for _, y := range p.Ruleset.Vocabulary.Yields {
		if y.Observable != o {
			continue
		}
		own := y.Uncertainty
		if y.Formula != "" {
			own /= 10 // it follows from the stone, and a large one is weighed better
		}
		u = min(u, own)
		for _, in := range p.Ruleset.Vocabulary.Instruments {
			if in.Test == y.Test && in.Uncertainty > 0 && (in.Observable == "" || in.Observable == o.Name) {
				u = min(u, in.Uncertainty)
			}
		}
	}
	return u
}

// digits tells of a threshold that is written finer than a tenth of the finest uncertainty.
func (b bounder) digits(n *condition.Node, o *vocab.Observable) {
	u := b.finest(o)
	if u <= 0 || math.IsInf(u, 1) {
		return
	}
	step := math.Pow(10, math.Floor(math.Log10(u/10)*(1-1e-12)))
	if x := n.Leaf.Cut / step; math.Abs(x-math.Round(x)) > 1e-6*max(1, math.Abs(x)) {
		b.tell(finerThanRead, n, "%q draws a line at %s %g, and the finest test reads it to ±%g", b.rule.ID, o.Name,
			n.Leaf.Cut, u).Detail = "The last digits tell nothing apart. Write no more than can be read."
	}
}

// bands looks at the pairs of bounds of one quantity that must both hold.
func (b bounder) bands(n *condition.Node) {
	for _, k := range n.Kids {
		b.bands(k)
	}
	if n.Op != condition.And {
		return
	}
	for _, low := range n.Kids {
		if low.Op != condition.Not || low.Kids[0].Op != condition.Leafed || low.Kids[0].Leaf.Kind > condition.AtMost {
			continue
		}
		for _, high := range n.Kids {
			if high.Op == condition.Leafed && high.Leaf.Kind <= condition.AtMost &&
				high.Leaf.Slot == low.Kids[0].Leaf.Slot {
				b.band(low.Kids[0].Leaf.Cut, high.Leaf.Cut, low, high)
			}
		}
	}
}

// swapped is from how many times the value a tolerance is taken for it, where the value might do.
const swapped = 5

func (b bounder) band(from, to float64, low, high *condition.Node) {
	o := b.Ruleset.Scope.At(high.Leaf.Slot).Observable
	if o == nil || to < from {
		return
	}
	whole := &condition.Node{Start: min(low.Start, high.Start), End: max(low.End, high.End)}
	text := b.c.Text[high.Start:high.End]
	if value, tolerance := (from+to)/2, (to-from)/2; low.Start == high.Start && low.End == high.End &&
		strings.HasPrefix(text, "near") &&
		(value > 0 && tolerance >= swapped*value || (value < o.Span[0] || value > o.Span[1]) &&
			tolerance >= o.Span[0] && tolerance <= o.Span[1]) {
		b.tell(nearSwapped, whole, "%q asks for %s near %g within %g", b.rule.ID, o.Name, rounded(value),
			rounded(tolerance)).Detail = fmt.Sprintf("The value comes before the tolerance: near(%s, %g, %g)?", o.Name,
			rounded(tolerance), rounded(value))
		return
	}
	if u := b.finest(o); to-from < 4*u*(1-1e-9) && !math.IsInf(u, 1) {
		b.tell(finerThanRead, whole, "%q asks for %s within %g, and the finest test reads it to ±%g", b.rule.ID,
			o.Name, rounded(to-from), u).Detail = fmt.Sprintf("A condition holds where two standard uncertainties "+
			"either way lie within, so that a reading of that test meets none narrower than %g. Widen it.",
			rounded(4*u))
	}
}

// rounded is a number without the noise of its reckoning.
func rounded(x float64) float64 {
	return math.Round(x*1e9) / 1e9
}
