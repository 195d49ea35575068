package proofread

import (
	"fmt"
	"math"
	"slices"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/eval"
	"whystone/kb/sat"
	"whystone/kb/vocab"
)

var repeatsRule = diag.New("repeats-rule", "A rule gives nothing that another does not give in the same cases.",
	`Wherever the rule fires another fires too, and gives at least as much: excludes the same materials, weighs them as
strongly in the same family on the same readings, sets the same readings aside, and so on. It changes no verdict. An exclusion
on other readings still weighs a little within its family; then it is a note.`)

func init() { Register(Check{Order: 20, Look: repeatedRules, Finds: []diag.Code{repeatsRule}}) }

// repeatedRules finds rules that give nothing of their own: wherever one fires another does, and gives all that it
// gives.
func repeatedRules(p *Pass) {
	rules := p.Ruleset.Order
	effects := english.Each(rules, effectsOf)
	for i, a := range rules {
		if p.over() {
			return
		}
		if p.hard(a) {
			continue // that b fires wherever it does could not be found out either
		}
		needs := p.looks.rule(a)
		var beside []bool // what fires beside it in one case
		for j, b := range rules {
			if a == b || b.Status != kb.Active || insteadOf(a, b) || p.hard(b) || effects[i]&^effects[j] != 0 ||
				!p.looks.neededBy(b).Within(needs) || !gives(b, a) {
				continue
			}
			if beside == nil {
				beside = p.beside(a)
			}
			if !beside[j] || !p.within(a, b) {
				continue
			}
			same := gives(a, b) && p.within(b, a)
			if same && a.Status == kb.Active && p.later(b, a) {
				continue // it is told of the later one
			}
			p.repeats(a, b, same)
			break
		}
	}
}

// beside is which rules, by their place in the order, fire with a rule in one case; all where no such case can be made.
// What does not fire there does not fire wherever the rule does, and need not be asked for.
func (p *Pass) beside(a *kb.Rule) []bool {
	out := make([]bool, len(p.Ruleset.Order))
	w, _ := p.witness(p.space.Fires(a), "fires-"+a.ID, func(run *eval.Run) bool {
		for i, r := range p.Ruleset.Order {
			out[i] = run.Fired(r)
		}
		return run.Fired(a)
	})
	if w == nil {
		return slices.Repeat([]bool{true}, len(out))
	}
	return out
}

// insteadOf tells whether one of two rules replaces the other, or is to: once it is active they are never in force
// together.
func insteadOf(a, b *kb.Rule) bool { return a.Place.Replaces == b.ID || b.Place.Replaces == a.ID }

// effects are the kinds of what follows from a rule.
type effects uint16

func effectsOf(r *kb.Rule) (out effects) {
	for i, has := range []bool{r.Excludes != nil, len(r.Weights) > 0, len(r.SetsAside) > 0, len(r.Establishes) > 0,
		len(r.CallsFor) > 0, len(r.Forbids) > 0, len(r.Cautions) > 0, r.SendsOn != "", r.Withholds != nil} {
		if has {
			out |= 1 << i
		}
	}
	return out
}

func (p *Pass) repeats(a, b *kb.Rule, same bool) {
	d := warning(repeatsRule, diag.Span{}, "%q gives nothing of its own: wherever it fires, %q does, and gives as much",
		a.ID, b.ID)
	d.Detail, d.Related = "Take it out, or let it give what the other does not.", related("the other", []*kb.Rule{b})
	if !same && a.Excludes != nil && !slices.Equal(a.Basis, b.Basis) {
		d.Severity = diag.Note
		d.Summary = fmt.Sprintf("%q excludes nothing of its own: wherever it fires, %q does, and excludes as much",
			a.ID, b.ID)
		d.Detail = "It rests on other readings, so it weighs a little beside the other within its family. If that is " +
			"not what it is for, take it out."
	}
	if same {
		d.Summary = fmt.Sprintf("%q and %q fire in the same cases and give the same", a.ID, b.ID)
		d.Detail = "Take one of them out, or make their conditions differ."
	}
	f := p.about(a, "rule", d, b)
	f.Witness, _ = p.witness(sat.And(p.space.Fires(a), p.space.Fires(b)), "repeats-rule-"+a.ID+"-"+b.ID, fired(a, b))
}

// within tells whether b fires wherever a does, and a can fire at all. Of rules that establish truths b must not fail
// where a is undecided either: the truth would then fail with it.
func (p *Pass) within(a, b *kb.Rule) bool {
	p.asking(a, b)
	if p.can(sat.And(p.space.Fires(a), sat.Not(p.space.Fires(b)))) || !p.can(p.space.Fires(a)) {
		return false
	}
	return len(a.Establishes) == 0 || !p.can(sat.And(p.space.Fails(b), sat.Not(p.space.Fails(a))))
}

// gives tells whether rule b gives all that a gives.
func gives(b, a *kb.Rule) bool {
	return givesEvidence(b, a) && subset(a.SetsAside, b.SetsAside) && subset(a.CallsFor, b.CallsFor) &&
		subset(a.Forbids, b.Forbids) &&
		subset(a.Cautions, b.Cautions) && (a.SendsOn == "" || a.SendsOn == b.SendsOn) && givesFacts(b, a) &&
		keepsBack(b, a)
}

// keepsBack tells whether rule b keeps back all names that a does, for at least as long as far as the words go, and
// with the same beside them.
func keepsBack(b, a *kb.Rule) bool {
	x, y := a.Withholds, b.Withholds
	if x == nil {
		return true
	}
	return y != nil && leavesWithin(x.Leaves, y.Leaves) && slices.Equal(x.Beside, y.Beside) &&
		(y.Until == nil || x.Until != nil && x.Until.Text == y.Until.Text)
}

// subset tells whether all of a are in b.
func subset[T comparable](a, b []T) bool {
	return !slices.ContainsFunc(a, func(x T) bool { return !slices.Contains(b, x) })
}

func givesEvidence(b, a *kb.Rule) bool {
	if !a.Evidence() {
		return true
	}
	if a.Family != b.Family || a.Excludes != nil && (b.Excludes == nil ||
		!leavesWithin(a.Excludes.Leaves, b.Excludes.Leaves)) {
		return false
	}
	if len(a.Weights) > 0 && !slices.Equal(a.Basis, b.Basis) {
		return false // evidence on other readings counts beside the other's
	}
	return !slices.ContainsFunc(a.Weights, func(w kb.Weight) bool {
		return !slices.ContainsFunc(b.Weights, func(v kb.Weight) bool {
			return asStrong(v.Ratio, w.Ratio) && leavesWithin(w.Leaves, v.Leaves) && (v.Unlisted || !w.Unlisted)
		})
	})
}

// asStrong tells whether one ratio says at least as much as another, the same way.
func asStrong(v, w float64) bool {
	x, y := math.Log(v), math.Log(w)
	return x*y >= 0 && math.Abs(x) >= math.Abs(y)*(1-1e-12)
}

// leavesWithin tells whether all of a are in b; both are rising.
func leavesWithin(a, b []int) bool {
	return !slices.ContainsFunc(a, func(x int) bool {
		_, in := slices.BinarySearch(b, x)
		return !in
	})
}

func givesFacts(b, a *kb.Rule) bool {
	return !slices.ContainsFunc(a.Establishes, func(e kb.Establishes) bool {
		return e.Fact.Kind == vocab.Quantity || !slices.ContainsFunc(b.Establishes,
			func(o kb.Establishes) bool { return o.Fact == e.Fact && o.Word == e.Word })
	})
}
