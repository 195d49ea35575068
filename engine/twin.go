package engine

import (
	"slices"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/eval"
)

// Twins are two rulesets that differ in nothing but rules, as they do when somebody tries an edit: a case is read as
// the same by both, and most cases are judged the same. Which these are is seen before anything is weighed: where the
// rules that a verdict looks at hold alike, say the same, and have set aside the same readings.
type Twins struct {
	// by place in the order of the first: that of the rule of the second which says the same to a verdict, or -1
	same []int
}

// NewTwins is nil for two that differ in more than rules.
func NewTwins(a, b *Engine) *Twins {
	if !slices.Equal(besideRules(a.Ruleset), besideRules(b.Ruleset)) ||
		!slices.EqualFunc(a.Ruleset.Leaves, b.Ruleset.Leaves, sameID) ||
		!slices.EqualFunc(a.nodes, b.nodes, sameID) {
		return nil
	}
	t := &Twins{same: make([]int, len(a.Ruleset.Order))}
	for i, r := range a.Ruleset.Order {
		t.same[i] = -1
		if o := b.Ruleset.Rule(r.ID); o != nil && o.Turn >= 0 && a.saysAs(i, b, o.Turn) {
			t.same[i] = o.Turn
		}
	}
	return t
}

func sameID(a, b *kb.Material) bool { return a.ID == b.ID && a.Name == b.Name }

// besideRules are the sheets of all that is no rule, as they are written, in their order.
func besideRules(rs *kb.Ruleset) (out []kb.Sheet) {
	for _, s := range rs.Sheets {
		if s.Kind != kb.RuleSheet {
			out = append(out, kb.Sheet{Kind: s.Kind, ID: s.ID, Retires: s.Retires, Written: s.Written})
		}
	}
	return out
}

// Alike are the lanes of two blocks, of the same cases, that come to the same verdict, share and answer.
func (t *Twins) Alike(a, b *eval.Block) condition.Plane { return a.Alike(b, t.same) }

// saysAs tells whether two rules, each by its place in its own ruleset's order, say the same to a verdict when they
// hold.
func (e *Engine) saysAs(i int, o *Engine, k int) bool {
	a, b := e.Ruleset.Order[i], o.Ruleset.Order[k]
	if a.Status != b.Status || (a.SendsOn == "") != (b.SendsOn == "") || (a.Withholds == nil) != (b.Withholds == nil) ||
		slices.Contains(e.weighing, i) != slices.Contains(o.weighing, k) {
		return false
	}
	if a.Withholds != nil && !(slices.Equal(a.Withholds.Leaves, b.Withholds.Leaves) &&
		slices.Equal(a.Withholds.Beside, b.Withholds.Beside)) {
		return false
	}
	x, y := &e.evidence[i], &o.evidence[k]
	return a.Family == b.Family && slices.EqualFunc(a.Basis, b.Basis, sameAtom) && slices.Equal(x.c, y.c) &&
		slices.Equal(x.exclude, y.exclude) &&
		x.unlisted == y.unlisted && x.declared == y.declared && x.tests == y.tests
}

func sameAtom(a, b kb.Atom) bool {
	return a.Observable.Index == b.Observable.Index && a.Feature == b.Feature
}
