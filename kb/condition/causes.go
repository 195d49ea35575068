package condition

import (
	"math"
	"math/bits"
	"strconv"
	"strings"

	"whystone/kb/english"
	"whystone/kb/logic"
	"whystone/kb/quantity"
	"whystone/kb/vocab"
)

// causes says why a leaf is undecided.
func (s *State) causes(scope *Scope, l *Leaf) []logic.Cause {
	var out []logic.Cause
	ready := true
	for _, slot := range l.Slots() {
		if c, bad := s.status(scope, slot); bad {
			out, ready = append(out, c), false
		}
	}
	if !ready {
		return out
	}
	sym := scope.At(l.Slot)
	slot := &s.Slots[l.Slot]
	switch l.Kind {
	case Below, AtMost:
		return []logic.Cause{straddle(sym.Name, slot.Lo, slot.Hi, l.Cut)}
	case Within:
		return []logic.Cause{{Name: sym.Name, Why: logic.TooCoarse, Says: coarse(sym, slot.Set)}}
	case Contains:
		return []logic.Cause{{Name: sym.Name, Why: logic.NotLookedFor, Of: sym.words()[l.Feature]}}
	case True:
		return []logic.Cause{{Name: sym.Name, Why: logic.NotDecided}}
	case SignBelow, SignAtMost:
		return s.arithCauses(scope, l)
	}
	return nil
}

// status is the cause that lies in a slot itself.
func (s *State) status(scope *Scope, slot int) (logic.Cause, bool) {
	c := logic.Cause{Name: scope.At(slot).Name, Says: s.Slots[slot].Reason}
	switch s.Slots[slot].Status {
	case Ready:
		return c, false
	case Vague:
		c.Why = logic.Inconclusive
	case Aside:
		c.Why = logic.SetAside
	case Clashing:
		c.Why = logic.Disagree
	default:
		c.Why = logic.Absent
	}
	return c, true
}

func (s *State) arithCauses(scope *Scope, l *Leaf) []logic.Cause {
	name := strings.Join(english.Each(l.Slots(), func(slot int) string { return scope.At(slot).Name }), ", ")
	lo, hi, _, err := s.hull(l.Arith)
	if err != nil {
		return []logic.Cause{{Name: name, Why: logic.Faulty, Says: err.Error()}}
	}
	c := straddle(name, lo, hi, 0)
	c.Says = "the limit"
	return []logic.Cause{c}
}

func straddle(name string, lo, hi, cut float64) logic.Cause {
	by := math.Min(cut-lo, hi-cut)
	if math.IsNaN(by) || math.IsInf(by, 0) {
		by = 0
	}
	return logic.Cause{Name: name, Why: logic.Straddles, Says: strconv.FormatFloat(cut, 'g', -1, 64), By: by}
}

// coarse names the choice that was read when it covers several, else the several.
func coarse(sym *Symbol, set uint64) string {
	if sym.Observable != nil {
		for i := range sym.Observable.Outcomes {
			if o := &sym.Observable.Outcomes[i]; o.Covers == set {
				return o.Name
			}
		}
	}
	return strings.Join(setWords(sym, set), " or ")
}

func setWords(sym *Symbol, set uint64) []string {
	var out []string
	words := sym.words()
	for ; set != 0; set &= set - 1 {
		if i := bits.TrailingZeros64(set); i < len(words) {
			out = append(out, words[i])
		}
	}
	return out
}

// Value says in words what a slot holds, as a sentence shows it: "1.762 ± 0.001", "slight", "feather, crystal".
func (s *State) Value(scope *Scope, slot int) string {
	sym, sl := scope.At(slot), &s.Slots[slot]
	if sl.Status != Ready {
		c, _ := s.status(scope, slot)
		return c.Why.String()
	}
	switch sym.Kind {
	case vocab.Quantity:
		format := func(q quantity.Q) string { return q.Format(&s.Context) }
		return strings.Join(english.Each(sl.Values, format), " / ")
	case vocab.Choice:
		return coarse(sym, sl.Set)
	case vocab.Features:
		seen := english.Each(sl.Seen.Members(), func(i int) string { return sym.words()[i] })
		unseen := english.Each(sl.Unseen.Members(), func(i int) string { return "no " + sym.words()[i] })
		return strings.Join(append(seen, unseen...), ", ")
	case vocab.Truth:
		return sl.Truth.String()
	default:
		return sl.Text
	}
}
