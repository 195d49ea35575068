package proofread

import (
	"slices"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/sat"
	"whystone/kb/vocab"
)

var (
	callsAgain = diag.New("calls-again", "A rule calls for a test whose reading made it fire.",
		`Wherever the rule fires, all that the test gives was read already, by it or by another test, and what was read is not called for. A test that is to be repeated as
its reading stayed open is asked for with unclear(...). A rule that rests on other readings besides may well want it again, as they
contradict each other.`)
	yieldsNothing = diag.New("yields-nothing", "A test gives nothing that could be read.",
		`A test's sheet says under yields: what is read with it. One that gives nothing is never suggested, and no rule calls for it.`)
)

func init() { Register(Check{Order: 51, Look: again, Finds: []diag.Code{callsAgain, yieldsNothing}}) }

// again finds rules that call for a test whose reading made them fire, and tests that give nothing.
func again(p *Pass) {
	called := map[string]bool{}
	for r := range p.rules {
		for _, id := range r.CallsFor {
			called[id] = true
			p.again(r, p.Ruleset.Test(id))
		}
	}
	for _, t := range p.Ruleset.Tests {
		if len(t.Yields) == 0 && !called[t.ID] {
			p.warnOf(Sheet{"test", t.ID}, t.Place.Span, yieldsNothing, "the test %q gives nothing that could be read",
				t.ID).Detail = "Say under yields: what is read with it."
		}
	}
}

func (p *Pass) again(r *kb.Rule, t *kb.Test) {
	fires := p.space.Fires(r)
	var names []string
	for _, y := range t.Yields {
		if !p.can(fires) || p.can(sat.And(fires, sat.Not(p.space.Read(y.Observable)))) || p.doubtfulOutcome(fires, y) {
			return
		}
		names = append(names, y.Observable.Name)
	}
	other := func(o *vocab.Observable) bool { return !slices.Contains(names, o.Name) }
	if len(names) == 0 || slices.ContainsFunc(r.Observes, other) {
		return // what contradicts another reading is well taken again
	}
	f := p.warn(r, "calls_for", callsAgain, "%q calls for %q, and fires only where %s was read already", r.ID, t.ID,
		english.List(names, "and"))
	f.Detail = "Call for another test. If it is to be made again where it stayed open, ask for unclear(" + names[0] +
		")."
	f.Witness, _ = p.witness(fires, "calls-again-"+r.ID, fired(r))
}

// doubtfulOutcome tells whether a formula is true of none but outcomes that are mistaken more often than others of the
// test: such a reading is taken again.
func (p *Pass) doubtfulOutcome(fires *sat.Formula, y *vocab.Yield) bool {
	if len(y.Outcome) == 0 {
		return false
	}
	var firm uint64
	// another test may read better than the sheet that names the outcomes
	usual := max(y.Blunder, slices.Min(y.Outcome))
	for i, blunder := range y.Outcome {
		if blunder <= usual {
			firm |= y.Observable.Meaning(i)
		}
	}
	return !p.can(sat.And(fires, p.space.Among(y.Observable, firm)))
}
