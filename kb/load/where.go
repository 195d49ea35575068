package load

import (
	"slices"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/logic"
	"whystone/kb/quantity"
	"whystone/kb/syntax"
	"whystone/kb/vocab"
)

// materialScope is what a "where" may name, and the properties of each leaf in it.
func materialScope(rs *kb.Ruleset) (*condition.Scope, []*condition.State) {
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
	scope := condition.NewScope(symbols).WithHints(func(name string) string {
		if slices.ContainsFunc(symbols, func(s condition.Symbol) bool { return s.Name == "material."+name }) {
			return "" // which is nearest
		}
		return stoneHint(rs.Scope, name)
	})
	var states []*condition.State
	for _, m := range rs.Leaves {
		states = append(states, materialState(scope, m, rs))
	}
	return scope, states
}

func materialState(scope *condition.Scope, m *kb.Material, rs *kb.Ruleset) *condition.State {
	st := &condition.State{Slots: make([]condition.Slot, scope.Len())}
	slot := func(name string) *condition.Slot { return &st.Slots[scope.Symbol("material."+name).Slot] }
	*slot("id") = condition.Slot{Status: condition.Ready, Text: m.ID}
	*slot("name") = condition.Slot{Status: condition.Ready, Text: vocab.Fold(m.Name)}
	if i := slices.Index(scope.Symbol("material.origin").Words, string(m.Origin)); i >= 0 {
		*slot("origin") = condition.Slot{Status: condition.Ready, Set: 1 << i}
	}
	for name, r := range m.Ranges {
		slot(name).SetQuantities(&st.Context, quantity.Between(r.Low, r.High))
		slot(name+".low").SetQuantities(&st.Context, quantity.Exact(r.Low))
		slot(name+".high").SetQuantities(&st.Context, quantity.Exact(r.High))
	}
	for name, f := range m.Choices {
		var set uint64
		for i, o := range rs.Vocabulary.Observable(name).Outcomes {
			if w := f.Words[o.Name]; w != "" && w != "never" {
				set |= 1 << i
			}
		}
		if set != 0 {
			*slot(name) = condition.Slot{Status: condition.Ready, Set: set}
		}
	}
	return st
}

// selectWhere decides a condition over each material; one that is undecided does not name it.
func (b *ruleBuilder) selectWhere(s *sheet, v *syntax.Node) *kb.Selection {
	c := s.condition(v, b.where)
	if c == nil {
		return nil
	}
	sel := &kb.Selection{Where: c, Says: "where " + c.Text}
	for i, st := range b.mats {
		is, _, err := condition.Evaluate(c, st)
		if err != nil {
			s.errorf(diag.BadNumber, v, "it can't be evaluated for %s: %s", b.rs.Leaves[i].ID, err)
			return nil
		}
		if is == logic.Holds {
			sel.Leaves = append(sel.Leaves, i)
		}
	}
	if len(sel.Leaves) == 0 && len(b.mats) > 0 {
		s.out.Warnf(diag.Inactive, v.Span, "no material satisfies this")
	}
	return sel
}
