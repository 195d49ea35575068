package engine

import (
	"slices"

	"whystone/kb"
	"whystone/kb/truth"
)

// keepBack finds the rules that keep names back in this case, and the leaves that they name.
func (j *Judge) keepBack() {
	j.keeping = j.keeping[:0]
	clear(j.withheld)
	for _, i := range j.e.withholds {
		if j.run.Rules[i] != truth.Holds {
			continue
		}
		r := j.e.Ruleset.Order[i]
		if until := r.Withholds.Until; until != nil {
			// One that can't be evaluated does not hold.
			if is, _, err := j.run.Truth(until); err == nil && is == truth.Holds {
				continue
			}
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

// beside takes into a narrowed list of nothing but withheld nodes the leaves that the rules put beside them, save those of
// weight nought and those already in it. It returns the rules, none where some node may be named, and nil in place of the
// list when nothing was added.
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
			if !j.w.nought.has(i) && !slices.ContainsFunc(nodes, m.Under) {
				nodes = append(nodes, m)
			}
		}
	}
	if len(nodes) == before {
		return nil, by
	}
	return nodes, by
}

// besideClaim tells whether a rule that keeps a name back puts a leaf of a claim, not of weight nought, beside it.
func (j *Judge) besideClaim(w *weights, leaves []int) bool {
	for _, r := range j.keeping {
		for _, i := range r.Withholds.Beside {
			if _, ok := slices.BinarySearch(leaves, i); ok && !w.nought.has(i) {
				return true
			}
		}
	}
	return false
}
