package kb

import (
	"fmt"
	"math"
	"strings"

	"whystone/kb/casefile"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/doc"
	"whystone/kb/quantity"
	"whystone/kb/truth"
	"whystone/kb/vocab"
)

// Derived is how a quantity follows from what is known of the stone when nobody read it: specific gravity from weight
// and measurements, say. Of several the first whose condition holds is used.
type Derived struct {
	Observable *vocab.Observable
	If         *condition.Condition // over the stone; nil: always
	Is         *condition.Arith     // over the stone, in the observable's unit
	Relative   float64              // standard uncertainty, as a part of the value
	Says       string
	Source     string
}

// buildDerived reads what the sheets derive from the stone. Its expressions may name the stone only.
func buildDerived(b *vocabBuilder, scope *condition.Scope) {
	for _, t := range b.tests {
		s := b.sheets[t.ID]
		for _, y := range t.Yields {
			v := s.Get("yields").Get(y.Observable.Name).Get("derived")
			if v.IsNull() {
				continue
			}
			items, _ := v.List(s.out)
			for _, it := range items {
				if d, ok := s.derived(it, y.Observable, scope); ok {
					t.Derived = append(t.Derived, d)
				}
			}
		}
	}
}

func (s *sheet) derived(n *doc.Node, o *vocab.Observable, scope *condition.Scope) (Derived, bool) {
	if !n.Keys(s.out, "if", "is", "relative", "says", "source") {
		return Derived{}, false
	}
	d := Derived{Observable: o, Relative: s.within(n, "relative", 0, 0, 1), Says: s.needText(n, "says"), Source: s.needText(n, "source")}
	for _, key := range []string{"is", "relative"} {
		if n.Get(key).IsNull() {
			s.errorf(diag.MissingKey, n, "what is derived says %q", key)
			return d, false
		}
	}
	if c := n.Get("if"); !c.IsNull() {
		text, ok := s.conditionText(c)
		if !ok {
			return d, false
		}
		if d.If = condition.Compile(text, locate(c), scope, s.out); d.If == nil || !s.aboutStone(c, d.If, scope) {
			return d, false
		}
	}
	is := n.Get("is")
	text, ok := s.conditionText(is)
	if !ok {
		return d, false
	}
	var reads *condition.Condition
	if d.Is, reads = condition.CompileQuantity(text, locate(is), scope, s.out); d.Is == nil {
		return d, false
	}
	return d, s.aboutStone(is, reads, scope)
}

// aboutStone refuses a condition that names anything but the stone.
func (s *sheet) aboutStone(n *doc.Node, c *condition.Condition, scope *condition.Scope) bool {
	for _, slot := range c.Reads {
		if name := scope.At(slot).Name; !strings.HasPrefix(name, "stone.") {
			s.errorf(diag.NotAllowed, n, "only the stone may be named here; %s is not of it", name)
			return false
		}
	}
	return true
}

// Derive adds to a case the quantities that follow from its stone and that nobody read.
func (rs *Ruleset) Derive(c *casefile.Case) {
	var state *condition.State
	for _, t := range rs.Tests {
		for i := range t.Derived {
			d := &t.Derived[i]
			if c.Has(d.Observable) {
				continue
			}
			if state == nil {
				state = rs.stone(c)
				defer rs.stones.Put(state)
			}
			if r := rs.derive(state, t, d); r != nil {
				r.Span, r.Spoilt = c.Span, t.spoilt(state)
				c.Add(r)
			}
		}
	}
}

// stone is a state that holds nothing but the stone of a case. Give it back to rs.stones.
func (rs *Ruleset) stone(c *casefile.Case) *condition.State {
	state, ok := rs.stones.Get().(*condition.State)
	if !ok {
		state = &condition.State{Slots: make([]condition.Slot, rs.Scope.Len())}
	}
	clearSlots(state)
	rs.putCase(state, c)
	return state
}

func (rs *Ruleset) derive(state *condition.State, t *Test, d *Derived) *casefile.Reading {
	if d.If != nil {
		if is, _, err := condition.Evaluate(d.If, state); err != nil || is != truth.Holds {
			return nil
		}
	}
	value := math.NaN()
	if err := state.Each(d.Is, func(q quantity.Q) { value = q.Value }); err != nil || math.IsNaN(value) {
		return nil // a measurement that it needs is missing, or nought
	}
	if value < d.Observable.Span[0] || value > d.Observable.Span[1] {
		return nil
	}
	u := d.Relative * math.Abs(value)
	y := rs.Vocabulary.Yield(t.ID, d.Observable)
	return &casefile.Reading{Observable: d.Observable, Form: casefile.Value, Value: value, U: u, Noise: u, Tests: []string{t.ID},
		Blunder: y.Blunder, Repeats: 1, Derived: true, Note: fmt.Sprintf("computed from the stone: %s", d.Says)}
}
