package condition

import (
	"math"
	"slices"

	"whystone/kb/logic"
	"whystone/kb/quantity"
	"whystone/kb/vocab"
)

// Status says whether a slot can be used.
type Status uint8

// The states of a slot.
const (
	Missing  Status = iota // not read
	Ready                  // usable
	Vague                  // tried, and inconclusive
	Aside                  // set aside by a rule
	Clashing               // repeats, or rules that give one fact, disagree
)

// Slot is what a condition sees under one name. Where several readings stand side by side (unlike places of a stone,
// the two rays of a full turn), it is their hull: a leaf holds or fails only if it does so for all of them.
type Slot struct {
	Status Status
	Truth  logic.Value
	Lo, Hi float64   // quantity: expanded interval (k = 2), or hard bounds
	Set    uint64    // choice: the plain choices that the reading leaves open
	Seen   vocab.Set // features seen, in every place
	Unseen vocab.Set // features looked for and not seen, in every place
	Text   string
	Values []quantity.Q // quantity: each reading, for arithmetic
	Reason string       // why it is vague, aside or clashing
}

// SetQuantities fills a quantity's slot.
func (s *Slot) SetQuantities(ctx *quantity.Context, values ...quantity.Q) {
	s.Status, s.Values = Ready, values
	s.Lo, s.Hi = math.Inf(1), math.Inf(-1)
	for _, q := range values {
		lo, hi := q.Interval(ctx)
		s.Lo, s.Hi = min(s.Lo, lo), max(s.Hi, hi)
	}
}

// State is a case as conditions see it: a slot for each symbol of the scope.
type State struct {
	Slots   []Slot
	Context quantity.Context
	args    []float64 // of a formula
}

// leaf evaluates one leaf. An error means that arithmetic failed: the leaf is undecided and the condition faulty.
func (s *State) leaf(l *Leaf) (logic.Value, error) {
	if l.Kind >= SignBelow {
		return s.sign(l)
	}
	slot := &s.Slots[l.Slot]
	switch l.Kind {
	case Seen:
		return logic.Of(slot.Status == Ready), nil
	case Unclear:
		return logic.Of(slot.Status > Ready), nil
	}
	if slot.Status != Ready {
		return logic.Undecided, nil
	}
	switch l.Kind {
	case Below:
		return decide(slot.Hi < l.Cut, slot.Lo >= l.Cut), nil
	case AtMost:
		return decide(slot.Hi <= l.Cut, slot.Lo > l.Cut), nil
	case Within:
		return decide(slot.Set&^l.Mask == 0, slot.Set&l.Mask == 0), nil
	case Contains:
		return decide(slot.Seen.Has(l.Feature), slot.Unseen.Has(l.Feature)), nil
	case Matches:
		return logic.Of(l.Match(slot.Text)), nil
	default:
		return slot.Truth, nil
	}
}

func decide(holds, fails bool) logic.Value {
	var v logic.Value
	if holds {
		v = logic.Holds
	}
	if fails {
		v |= logic.Fails
	}
	return v
}

// maxVariants bounds the combinations of readings that stand side by side in one comparison.
const maxVariants = 64

// sign compares arithmetic with zero, for every combination of readings that stand side by side.
func (s *State) sign(l *Leaf) (logic.Value, error) {
	lo, hi, ready, err := s.hull(l.Arith)
	if err != nil || !ready {
		return logic.Undecided, err
	}
	if l.Kind == SignBelow {
		return decide(hi < 0, lo >= 0), nil
	}
	return decide(hi <= 0, lo > 0), nil
}

// hull is the interval that covers the arithmetic's value for every combination; not ready where a reading is missing.
func (s *State) hull(a *Arith) (lo, hi float64, ready bool, err error) {
	lo, hi = math.Inf(1), math.Inf(-1)
	err = s.Each(a, func(q quantity.Q) {
		l, h := q.Interval(&s.Context)
		lo, hi, ready = min(lo, l), max(hi, h), true
	})
	return lo, hi, ready, err
}

// Each calls f with the arithmetic's value for every combination of readings that stand side by side; not at all when
// a reading is missing.
func (s *State) Each(a *Arith, f func(quantity.Q)) error {
	var several []int
	total := 1
	var room [16]int
	for _, slot := range a.slots(room[:0]) {
		if s.Slots[slot].Status != Ready {
			return nil
		}
		if n := len(s.Slots[slot].Values); n > 1 && !slices.Contains(several, slot) {
			several = append(several, slot)
			total *= n
		}
	}
	if total > maxVariants {
		return nil
	}
	if x, ok := a.plain(s); ok {
		f(quantity.Exact(x))
		return nil
	}
	for i := range total {
		pick := func(slot int) int {
			rest := i
			for _, v := range several {
				n := len(s.Slots[v].Values)
				if v == slot {
					return rest % n
				}
				rest /= n
			}
			return 0
		}
		q, err := a.eval(s, pick)
		if err != nil {
			return err
		}
		f(q)
	}
	return nil
}

// eval computes the arithmetic; pick chooses among readings that stand side by side.
func (a *Arith) eval(s *State, pick func(slot int) int) (quantity.Q, error) {
	switch a.Fn {
	case "":
		return quantity.Exact(a.Num), nil
	case "slot":
		return a.closed(s.Slots[a.Slot].Values[pick(a.Slot)]), nil
	case "count":
		return s.count(a), nil
	}
	if f, ok := formulas[a.Fn]; ok {
		var room [4]quantity.Q
		args := room[:0]
		for _, arg := range a.Args {
			x, err := arg.eval(s, pick)
			if err != nil {
				return x, err
			}
			args = append(args, x)
		}
		return quantity.Apply(&s.Context, f.F, args...)
	}
	x, err := a.Args[0].eval(s, pick)
	if err != nil {
		return x, err
	}
	if f, ok := unary[a.Fn]; ok {
		return f(&s.Context, x)
	}
	y, err := a.Args[1].eval(s, pick)
	if err != nil {
		return y, err
	}
	return binary[a.Fn](&s.Context, x, y)
}

// plain is what eval comes to where all numbers are exact, as they are where an uncertainty is reckoned; not ok: leave
// it to eval, which also says what is wrong.
func (a *Arith) plain(s *State) (x float64, ok bool) {
	switch a.Fn {
	case "":
		return a.Num, true
	case "slot":
		v := s.Slots[a.Slot].Values
		if len(v) != 1 || v[0].Bounded || len(v[0].Partials) > 0 {
			return 0, false
		}
		return v[0].Value, true
	}
	var room [3]float64
	if len(a.Args) > len(room) {
		return 0, false
	}
	for i, arg := range a.Args {
		if room[i], ok = arg.plain(s); !ok {
			return 0, false
		}
	}
	switch a.Fn {
	case "+":
		x = room[0] + room[1]
	case "-":
		x = room[0] - room[1]
	case "*":
		x = room[0] * room[1]
	case "/":
		x = room[0] / room[1]
	case "**":
		x = math.Pow(room[0], room[1])
	case "sqrt":
		x = math.Sqrt(room[0])
	default:
		f, is := formulas[a.Fn]
		if !is {
			return 0, false
		}
		s.args = append(s.args[:0], room[:len(a.Args)]...)
		var err error
		if x, err = f.F(s.args); err != nil {
			return 0, false
		}
	}
	return x, !math.IsNaN(x) && !math.IsInf(x, 0)
}

// closed is a reading as arithmetic takes it: the open end of a bound is that of what can be read at all, as nothing
// comes of arithmetic without end. A bare comparison leaves it open.
func (a *Arith) closed(q quantity.Q) quantity.Q {
	if !q.Bounded || !math.IsInf(q.Lo, -1) && !math.IsInf(q.Hi, 1) {
		return q
	}
	lo, hi := q.Lo, q.Hi
	if math.IsInf(lo, -1) {
		lo = a.Span[0]
	}
	if math.IsInf(hi, 1) {
		hi = a.Span[1]
	}
	return quantity.Between(lo, hi)
}

// count is how many of the features were seen: at least the listed ones, at most those and all that nobody looked for.
func (s *State) count(a *Arith) quantity.Q {
	slot := &s.Slots[a.Slot]
	seen, open := a.Set, a.Set
	seen.Intersect(slot.Seen)
	open.Minus(slot.Unseen)
	lo, hi := float64(len(seen.Members())), float64(len(open.Members()))
	if lo == hi {
		return quantity.Exact(lo)
	}
	return quantity.Between(lo, hi)
}
