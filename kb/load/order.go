package load

import (
	"cmp"
	"slices"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/vocab"
)

// order puts the rules that are evaluated into an order in which each comes after all that it depends on, and refuses
// a circle. Where the order is free it follows the ids.
func order(rs *kb.Ruleset, out *diag.List) {
	rules := slices.DeleteFunc(slices.Clone(rs.Rules), func(r *kb.Rule) bool { return r.Status == kb.Retired })
	deps := dependencies(rs, rules)
	done, open := map[*kb.Rule]bool{}, map[*kb.Rule]bool{}
	var path []*kb.Rule
	var visit func(r *kb.Rule) bool
	visit = func(r *kb.Rule) bool {
		if done[r] {
			return true
		}
		path = append(path, r)
		if open[r] {
			reportCircle(path[slices.Index(path, r):], deps, out)
			return false
		}
		open[r] = true
		for _, d := range deps[r] {
			if !visit(d.on) {
				return false
			}
		}
		path = path[:len(path)-1]
		done[r], open[r] = true, false
		r.Turn = len(rs.Order)
		rs.Order = append(rs.Order, r)
		return true
	}
	for _, r := range rules {
		if !visit(r) {
			return
		}
	}
}

// dependence is one rule's need that another comes first.
type dependence struct {
	on   *kb.Rule
	name string // the fact or observable between them
	fact bool
}

func dependencies(rs *kb.Ruleset, rules []*kb.Rule) map[*kb.Rule][]dependence {
	setters := map[string][]*kb.Rule{}
	for _, r := range rules {
		for _, o := range r.SetsAside {
			setters[o.Name] = append(setters[o.Name], r)
			if o.Name == vocab.RefractiveIndex { // the difference of its rays goes with it
				setters[vocab.Birefringence] = append(setters[vocab.Birefringence], r)
			}
		}
	}
	deps := map[*kb.Rule][]dependence{}
	for _, r := range rules {
		for _, slot := range r.Slots() {
			sym := rs.Scope.At(slot)
			from := setters[sym.Name]
			if sym.Fact {
				from = rs.Fact(sym.Name).By
			}
			for _, on := range from {
				deps[r] = append(deps[r], dependence{on: on, name: sym.Name, fact: sym.Fact})
			}
		}
		slices.SortFunc(deps[r], func(a, b dependence) int {
			return cmp.Or(cmp.Compare(a.on.ID, b.on.ID), cmp.Compare(a.name, b.name))
		})
	}
	return deps
}

func reportCircle(path []*kb.Rule, deps map[*kb.Rule][]dependence, out *diag.List) {
	first := path[0]
	text := first.ID
	var related []diag.Related
	for i := 0; i+1 < len(path); i++ {
		for _, d := range deps[path[i]] {
			if d.on == path[i+1] {
				verb := " reads " + d.name + ", which may be set aside by "
				if d.fact {
					verb = " reads " + d.name + ", which is established by "
				}
				text += verb + d.on.ID
				related = append(related, diag.Related{Span: path[i].Place.Span, Says: path[i].ID + verb + d.on.ID})
				break
			}
		}
		if i+2 < len(path) {
			text += ";\n" + path[i+1].ID
		}
	}
	d := out.Errorf(diag.CircleOfFacts, first.Place.Span, "rules depend on each other in a circle")
	d.Detail = text + "."
	d.Related = related
}

// compile joins the conditions of all evaluated rules into one program.
func compile(rs *kb.Ruleset) {
	b := condition.NewBuilder(rs.Scope)
	for _, r := range rs.Order {
		c := kb.Compiled{If: b.Constant(true)}
		if r.If != nil {
			c.If = b.Add(r.If.Root)
		}
		c.Whole = c.If
		if r.Unless != nil {
			c.Whole = b.All(c.If, b.Add(r.Unless.Root).Negated())
		}
		c.End = b.Len()
		rs.Compiled = append(rs.Compiled, c)
	}
	rs.Program = b.Program(late(rs))
}

// late tells which slots change while the rules run: facts, and what a rule may set aside.
func late(rs *kb.Ruleset) func(slot int) bool {
	aside := map[int]bool{}
	for _, r := range rs.Order {
		for _, o := range r.SetsAside {
			aside[o.Index] = true
			if d := rs.Vocabulary.Observable(vocab.Birefringence); d != nil && o.Name == vocab.RefractiveIndex {
				aside[d.Index] = true
			}
		}
	}
	return func(slot int) bool { return aside[slot] || rs.Scope.At(slot).Fact }
}
