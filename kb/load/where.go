package load

import (
	"slices"
	"strings"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/logic"
	"whystone/kb/quantity"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// materialScope is what a "where" may name.
func materialScope(rs *kb.Ruleset) *condition.Scope {
	symbols := []condition.Symbol{{Name: "material.id", Kind: vocab.Text}, {Name: "material.name", Kind: vocab.Text},
		{Name: "material.origin", Kind: vocab.Choice, Words: slices.Sorted(slices.Values(texts(kb.Origins)))}}
	properties := kb.Properties(rs.Vocabulary)
	for _, p := range properties {
		symbols = append(symbols, condition.Symbol{Name: "material." + p, Kind: vocab.Quantity},
			condition.Symbol{Name: "material." + p + ".low", Kind: vocab.Quantity, Exact: true},
			condition.Symbol{Name: "material." + p + ".high", Kind: vocab.Quantity, Exact: true})
	}
	for _, o := range rs.Vocabulary.Observables {
		if o.Kind == vocab.Choice {
			symbols = append(symbols, condition.Symbol{Name: "material." + o.Name, Kind: vocab.Choice, Observable: o})
		}
	}
	return condition.NewScope(symbols).WithHints(func(name string) string {
		if slices.ContainsFunc(symbols, func(s condition.Symbol) bool { return s.Name == "material."+name }) {
			return "" // which is nearest
		}
		return stoneHint(rs.Scope, name)
	})
}

// materialSlot is what a material has under a name of that scope.
func materialSlot(m *kb.Material, s *condition.Symbol) (slot condition.Slot) {
	property, end, _ := strings.Cut(strings.TrimPrefix(s.Name, "material."), ".")
	r, f := m.Ranges[property], m.Choices[property]
	switch {
	case property == "id":
		slot.Status, slot.Text = condition.Ready, m.ID
	case property == "name":
		slot.Status, slot.Text = condition.Ready, vocab.Fold(m.Name)
	case property == "origin":
		if i := slices.Index(s.Words, string(m.Origin)); i >= 0 {
			slot.Status, slot.Set = condition.Ready, 1<<i
		}
	case s.Observable != nil && f != nil:
		for i, o := range s.Observable.Outcomes {
			if w := f.Words[o.Name]; w != "" && w != kb.Never {
				slot.Status, slot.Set = condition.Ready, slot.Set|1<<i
			}
		}
	case s.Observable == nil && r != nil:
		is := map[string]quantity.Q{"": quantity.Between(r.Low, r.High), "low": quantity.Exact(r.Low),
			"high": quantity.Exact(r.High)}[end]
		slot.SetQuantities(&quantity.Context{}, is)
	}
	return slot
}

// selectWhere decides a condition over each material; one that is undecided does not name it.
func (b *ruleBuilder) selectWhere(s *sheet, v *syntax.Node) *kb.Selection {
	c := s.condition(v, b.where)
	if c == nil {
		return nil
	}
	sel := &kb.Selection{Where: c, Says: "where " + c.Text}
	st := &condition.State{Slots: make([]condition.Slot, b.where.Len())}
	for i, m := range b.rs.Leaves {
		for _, slot := range c.Reads {
			st.Slots[slot] = materialSlot(m, b.where.At(slot))
		}
		is, err := condition.Truth(c, st)
		if err != nil {
			s.errorf(diag.BadNumber, v, "it can't be evaluated for %s: %s", m.ID, err)
			return nil
		}
		if is == logic.Holds {
			sel.Leaves = append(sel.Leaves, i)
		}
	}
	if len(sel.Leaves) == 0 && len(b.rs.Leaves) > 0 {
		s.out.Warnf(diag.Inactive, v.Span, "no material satisfies this")
	}
	return sel
}
