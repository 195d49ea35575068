package engine

import (
	"cmp"
	"slices"

	"whystone/kb"
	"whystone/kb/logic"
	"whystone/kb/vocab"
)

// keepBack finds the rules that keep names back in this case, and the leaves that they name.
func (j *Judge) keepBack() {
	j.keeping = j.keeping[:0]
	clear(j.withheld)
	for _, i := range j.e.withholds {
		if j.run.Rules[i] != logic.Holds {
			continue
		}
		r := j.e.Ruleset.Order[i]
		if j.run.Lifted(i) {
			continue
		}
		j.keeping = append(j.keeping, r)
		for _, l := range r.Withholds.Leaves {
			j.withheld.add(l)
		}
	}
}

// withheldBy are the rules that keep a node's name back: all its leaves are named by one or another. Nil: none does.
func (j *Judge) withheldBy(m *kb.Material) []*kb.Rule {
	for _, i := range m.Leaves {
		if !j.withheld.has(i) {
			return nil
		}
	}
	return j.keepingAny(m)
}

// keepingAny are the rules that keep back a leaf of a node.
func (j *Judge) keepingAny(m *kb.Material) []*kb.Rule {
	var out []*kb.Rule
	for _, r := range j.keeping {
		if slices.ContainsFunc(m.Leaves, func(i int) bool { return slices.Contains(r.Withholds.Leaves, i) }) {
			out = append(out, r)
		}
	}
	return out
}

// beside takes into a narrowed list of nothing but withheld nodes the leaves that the rules put beside them, save those
// of weight zero and those already in it. It returns the rules, none where some node may be named, and nil in place of
// the list when nothing was added.
func (j *Judge) beside(nodes []*kb.Material) ([]*kb.Material, []*kb.Rule) {
	var by []*kb.Rule
	for _, m := range nodes {
		rules := j.withheldBy(m)
		if rules == nil {
			return nodes, nil
		}
		for _, r := range rules {
			if !slices.Contains(by, r) {
				by = append(by, r)
			}
		}
	}
	before := len(nodes)
	for _, r := range by {
		for _, i := range r.Withholds.Beside {
			m := j.leaf(i)
			if !j.w.zero.has(i) && !slices.ContainsFunc(nodes, m.Under) {
				nodes = append(nodes, m)
			}
		}
	}
	if len(nodes) == before {
		return nil, by
	}
	return nodes, by
}

// besideClaim tells whether a rule that keeps a name back puts a leaf of a claim, not of weight zero, beside it.
func (j *Judge) besideClaim(leaves []int) bool {
	for _, r := range j.keeping {
		for _, i := range r.Withholds.Beside {
			if _, ok := slices.BinarySearch(leaves, i); ok && !j.w.zero.has(i) {
				return true
			}
		}
	}
	return false
}

// KeptFromName are the rules that keep back the name which the case decided last would else have: of a node below the
// named one that holds enough, of the foremost of those that it was narrowed to, or of all that it could be narrowed
// to.
func (j *Judge) KeptFromName(d *Decision) []*kb.Rule {
	if len(j.keeping) == 0 {
		return nil
	}
	switch d.Class {
	case Inconclusive:
		return d.KeptBack
	case Identified:
		j.shares()
		for n, m := range j.e.nodes { // the deepest first
			if m != d.Named && m.Under(d.Named) && j.nodeShare[n] >= d.Required {
				if by := j.withheldBy(m); by != nil {
					return by
				}
			}
		}
	case Narrowed:
		return j.withheldBy(d.Nodes[0])
	}
	return nil
}

// lifts are the observables that rules wait for before a name may be given: those of "until", and of the rules that
// establish its facts.
func (e *Engine) lifts(by []*kb.Rule) []*vocab.Observable {
	var out []*vocab.Observable
	add := func(o *vocab.Observable) {
		if o != nil && !slices.Contains(out, o) {
			out = append(out, o)
		}
	}
	for _, r := range by {
		if r.Withholds.Until == nil {
			continue
		}
		for _, slot := range r.Withholds.Until.Reads {
			sym := e.Ruleset.Scope.At(slot)
			add(sym.Observable)
			if !sym.Fact {
				continue
			}
			for _, est := range e.Ruleset.Fact(sym.Name).By {
				for _, o := range est.Observes {
					add(o)
				}
			}
		}
	}
	slices.SortFunc(out, func(a, b *vocab.Observable) int { return cmp.Compare(a.Name, b.Name) })
	return out
}

// liftedBy are the tests that may lift what rules keep back: harmless ones that this stone allows, the quickest first.
func (j *Judge) liftedBy(by []*kb.Rule) []*kb.Test {
	var out []*kb.Test
	observables := j.e.lifts(by)
	for _, t := range j.e.Ruleset.Tests {
		if t.Harmless() && !j.forbidden(t.ID) && j.run.Needs(t).Feasible() &&
			slices.ContainsFunc(t.Yields, func(y *vocab.Yield) bool {
				return slices.Contains(observables,
					y.Observable)
			}) {
			out = append(out, t)
		}
	}
	slices.SortStableFunc(out, func(a, b *kb.Test) int {
		return cmp.Or(cmp.Compare(a.Minutes, b.Minutes),
			cmp.Compare(a.ID, b.ID))
	})
	return out
}
