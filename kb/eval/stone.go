package eval

import (
	"math"
	"slices"
	"sync"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/logic"
	"whystone/kb/quantity"
	"whystone/kb/vocab"
)

// CaseReader reads cases in the vocabulary of the ruleset.
func CaseReader(rs *kb.Ruleset) *casefile.Reader {
	s := &stones{rs: rs}
	for _, t := range rs.Tests {
		for i := range t.Derived {
			d := &t.Derived[i]
			s.derived = append(s.derived, derivation{Derived: d, test: t, tests: []string{t.ID}, reads: d.Is.Slots(),
				blunder: rs.Vocabulary.Yield(t.ID, d.Observable).Blunder, note: "computed from the stone: " + d.Says})
		}
	}
	s.reckoning.New = func() any { return new(condition.State) }
	s.states.New = func() any { return &condition.State{Slots: make([]condition.Slot, rs.Scope.Len())} }
	known := func(id string) (nearest string, ok bool) {
		if rs.NodeOrWas(id) != nil {
			return "", true
		}
		return diag.Nearest(id, rs.NodeIDs()), false
	}
	return &casefile.Reader{Vocabulary: rs.Vocabulary, Zone: rs.Policy.Zone, Derive: s.derive, Spoils: s.spoils,
		SpoilsBy: s.spoilsBy, Reckon: s.reckon, ByValue: s.byValue, Known: known}
}

// stones tells what follows from the stones of cases alone.
type stones struct {
	rs        *kb.Ruleset
	derived   []derivation
	states    sync.Pool // of *condition.State
	reckoning sync.Pool // the same, for what an uncertainty follows from
}

// derivation is a quantity that follows from a stone, with what its reading says in every case.
type derivation struct {
	*kb.Derived
	test    *kb.Test
	reads   []int // slots
	tests   []string
	blunder float64
	note    string
}

// of is a state that holds nothing but the stone of a case. Give it back to states.
func (s *stones) of(c *casefile.Case) *condition.State {
	state := s.states.Get().(*condition.State)
	clearSlots(state)
	putCase(s.rs, state, c)
	return state
}

// derive adds to a case the quantities that follow from its stone and that nobody read. One that no stone can have is
// no reading: weight and measurements don't go together then, and the case says so.
func (s *stones) derive(c *casefile.Case) {
	var state *condition.State
	for i := range s.derived {
		d := &s.derived[i]
		if !s.given(c, d.reads) || c.Has(d.Observable) {
			continue
		}
		if state == nil {
			state = s.of(c)
			defer s.states.Put(state)
		}
		switch value := d.value(state); {
		case math.IsNaN(value):
		case value < d.Observable.Span[0] || value > d.Observable.Span[1]:
			c.Misfit = &casefile.Misfit{Observable: d.Observable, Value: value}
		default:
			r := d.reading(value)
			r.Span, r.Spoilt = c.Span, spoilt(d.test, state)
			c.Add(r)
			if c.Misfit != nil && c.Misfit.Observable == d.Observable {
				c.Misfit = nil // another line goes together with the stone
			}
		}
	}
}

// given tells whether a case says all that some slots are for.
func (s *stones) given(c *casefile.Case, slots []int) bool {
	st := &c.Stone
	numbers := [...]*float64{st.Carat, st.Length, st.Width, st.Depth}
	for _, slot := range slots {
		// Arithmetic is on numbers, which stand side by side among the properties of a stone.
		if at := slot - len(s.rs.Vocabulary.Observables) - firstNumber; at >= 0 && at < len(numbers) &&
			numbers[at] == nil {
			return false
		}
	}
	return true
}

// value is what follows from a stone, or not a number when nothing does.
func (d *derivation) value(state *condition.State) float64 {
	if d.If != nil {
		if is, err := condition.Truth(d.If, state); err != nil || is != logic.Holds {
			return math.NaN()
		}
	}
	value := math.NaN()
	if err := state.Each(d.Is, func(q quantity.Q) { value = q.Value }); err != nil {
		return math.NaN() // a measurement that it needs is missing, or zero
	}
	return value
}

// reading is the reading of what follows from a stone.
func (d *derivation) reading(value float64) *casefile.Reading {
	u := d.Relative * math.Abs(value)
	return &casefile.Reading{Observable: d.Observable, Form: casefile.Value, Value: value, U: u, Noise: u,
		Repeats: 1, Derived: true, Tests: d.tests, Blunder: d.blunder, Note: d.note}
}

// spoils is the need of a test for which its readings on the stone of a case are set aside; empty when there is none.
func (s *stones) spoils(c *casefile.Case, test string) string {
	t := s.rs.Test(test)
	if t == nil || !slices.ContainsFunc(t.Needs, func(n kb.Need) bool { return n.Spoils }) {
		return ""
	}
	state := s.of(c)
	defer s.states.Put(state)
	return spoilt(t, state)
}

// spoilsBy tells what the needs of a test look at for which its readings are set aside, if there are such needs.
func (s *stones) spoilsBy(test string) (looks []casefile.Look, ok bool) {
	t := s.rs.Test(test)
	if t == nil {
		return nil, false
	}
	for i := range t.Needs {
		if n := &t.Needs[i]; n.Spoils && n.If != nil {
			ok = true
			for _, slot := range n.If.Reads {
				looks = append(looks, casefile.Look{Name: s.rs.Scope.At(slot).Name})
			}
			for _, leaf := range n.If.Leaves() {
				looks = append(looks, s.looks(leaf.Leaf)...)
			}
		}
	}
	return looks, ok
}

// looks are those of a leaf. Of a figure that is exact a comparison asks nothing but on which side of the cut it lies.
func (s *stones) looks(l *condition.Leaf) (out []casefile.Look) {
	for _, slot := range l.Slots() {
		look := casefile.Look{Name: s.rs.Scope.At(slot).Name}
		switch l.Kind {
		case condition.Below, condition.AtMost:
			look.Cuts = []float64{l.Cut}
		case condition.True, condition.Seen:
		default:
			look.Closely = true
		}
		out = append(out, look)
	}
	return out
}

// reckon is the standard uncertainty that follows from the stone of a case for a value read by a test without one; the
// instrument may be nil. It is 0 where the test's sheet gives no expression, where a figure that this names is not
// known, and where it does not come to a number above zero: then the yield's Uncertainty counts.
func (s *stones) reckon(c *casefile.Case, y *vocab.Yield, in *vocab.Instrument, value float64) float64 {
	f := s.rs.Formulas[y]
	if f == nil {
		return 0
	}
	state := s.reckoning.Get().(*condition.State)
	defer s.reckoning.Put(state)
	state.Slots = slices.Grow(state.Slots[:0], f.Scope.Len())[:f.Scope.Len()]
	clearSlots(state)
	putStone(state, state.Slots, &c.Stone)
	putNumber(state, &state.Slots[stoneProperties], &value)
	for i, figure := range y.Figures {
		x := figure.Otherwise
		if in != nil {
			if own, ok := in.Figures[figure.Name]; ok {
				x = &own
			}
		}
		putNumber(state, &state.Slots[stoneProperties+1+i], x)
	}
	u := 0.0 // what is not finite is an error
	if err := state.Each(f.Is, func(q quantity.Q) { u = q.Value }); err != nil || !(u > 0) {
		return 0
	}
	return u
}

// byValue tells whether the expression for an uncertainty names no property of the stone.
func (s *stones) byValue(y *vocab.Yield) bool {
	f := s.rs.Formulas[y]
	return f == nil || !slices.ContainsFunc(f.Is.Slots(), func(slot int) bool { return slot < stoneProperties })
}

// stoneProperties is how many there are; firstNumber is the place of the first of the four numbers among them.
const (
	stoneProperties = 10
	firstNumber     = 4
)

// StoneSymbols are the properties of the stone as conditions see them.
func StoneSymbols() []condition.Symbol {
	return []condition.Symbol{
		{Name: "stone.mounted", Kind: vocab.Truth}, {Name: "stone.warm", Kind: vocab.Truth},
		{Name: "stone.wet", Kind: vocab.Truth}, {Name: "stone.coated", Kind: vocab.Truth},
		{Name: "stone.carat", Kind: vocab.Quantity, Exact: true}, {Name: "stone.length_mm", Kind: vocab.Quantity,
			Exact: true},
		{Name: "stone.width_mm", Kind: vocab.Quantity, Exact: true}, {Name: "stone.depth_mm", Kind: vocab.Quantity,
			Exact: true},
		{Name: "stone.cut", Kind: vocab.Text}, {Name: "stone.setting", Kind: vocab.Text},
	}
}

// CaseSymbols are what conditions see of a case before its readings: the stone, the claim and the stake. In a ruleset's
// scope they come after the observables.
func CaseSymbols() []condition.Symbol {
	return append(StoneSymbols(), condition.Symbol{Name: "claim", Kind: vocab.Text},
		condition.Symbol{Name: "stake", Kind: vocab.Quantity, Exact: true})
}

// clearSlots empties the slots; the values' memory is used again.
func clearSlots(state *condition.State) {
	for i := range state.Slots {
		state.Slots[i] = condition.Slot{Values: state.Slots[i].Values[:0]}
	}
}

// putCase puts the stone of a case, its claim and its stake into the slots.
func putCase(rs *kb.Ruleset, state *condition.State, c *casefile.Case) {
	slots := state.Slots[len(rs.Vocabulary.Observables):]
	putStone(state, slots, &c.Stone)
	if c.Claim != "" {
		slots[stoneProperties].Status, slots[stoneProperties].Text = condition.Ready, c.Claim
	}
	putNumber(state, &slots[stoneProperties+1], c.Stake)
}

// putStone puts a stone into slots, in the order of StoneSymbols.
func putStone(state *condition.State, slots []condition.Slot, s *casefile.Stone) {
	for i, b := range []*bool{s.Mounted, s.Warm, s.Wet, s.Coated} {
		if b != nil {
			slots[i].Status, slots[i].Truth = condition.Ready, logic.Of(*b)
		}
	}
	for i, x := range []*float64{s.Carat, s.Length, s.Width, s.Depth} {
		putNumber(state, &slots[firstNumber+i], x)
	}
	for i, text := range []string{s.Cut, s.Setting} {
		if text != "" {
			slots[8+i].Status, slots[8+i].Text = condition.Ready, text
		}
	}
}

func putNumber(state *condition.State, slot *condition.Slot, x *float64) {
	if x != nil {
		slot.SetQuantities(&state.Context, append(slot.Values[:0], quantity.Exact(*x))...)
	}
}

// Needs is what a test asks of a stone and does not find, or does not know.
type Needs struct {
	Missing []string // what the stone has not
	Unknown []string // what the case does not say
}

// Needs looks at what a test needs of the stone of the last case.
func (run *Run) Needs(t *kb.Test) (n Needs) {
	for i := range t.Needs {
		switch need := &t.Needs[i]; on(need, &run.State) {
		case logic.Fails:
			n.Missing = append(n.Missing, need.Says)
		case logic.Undecided:
			n.Unknown = append(n.Unknown, need.Says)
		}
	}
	return n
}

// on is whether a stone meets the need. Of one that can't be evaluated nothing is known.
func on(need *kb.Need, state *condition.State) logic.Value {
	if need.If == nil {
		return logic.Undecided
	}
	is, err := condition.Truth(need.If, state)
	if err != nil {
		return logic.Undecided
	}
	return is
}

// spoilt is the first need of those that spoil a reading which the stone is known not to meet; empty when there is
// none.
func spoilt(t *kb.Test, state *condition.State) string {
	for i := range t.Needs {
		if need := &t.Needs[i]; need.Spoils && on(need, state) == logic.Fails {
			return need.Says
		}
	}
	return ""
}

// Feasible tells whether nothing is known to stand in the way.
func (n Needs) Feasible() bool { return len(n.Missing) == 0 }
