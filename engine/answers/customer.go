package answers

import (
	"slices"

	"whystone/engine"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/casefile"
)

// Customer is what may be said to whoever brought the stone, a sentence each: what it is or is not, why, and what is
// open or comes next.
type Customer struct{ Is, Why, Next phrase.Told }

// Customer words a verdict for the customer. It is made of the same reasons as the verdict, what it rests on and what
// is told beside it, and says nothing that they do not.
func (a *Asker) Customer(c *casefile.Case, m engine.Moment, ex *engine.Explained) Customer {
	d := a.decide(c, m.On)
	is, next := a.customerIs(c, &d).Told(), a.customerNext(c, &d, ex).Told()
	return Customer{is, a.customerWhy(c, &d, m).Told(), next}
}

// customerIs is what the stone is, with the answer to the claim where it has one.
func (a *Asker) customerIs(c *casefile.Case, d *engine.Decision) phrase.Reason {
	r := phrase.Reason{Code: phrase.CustomerOpen, Node: d.Named, Nodes: d.Nodes, Colours: d.Colours}
	switch {
	case d.Class == engine.Identified && len(d.RestsOnPriors) > 0:
		r.Code, r.Other = phrase.CustomerLikely, d.RestsOnPriors[0]
	case d.Class == engine.Identified:
		r.Code = phrase.CustomerIs
	case d.Class == engine.Narrowed && len(d.Nodes) == 1:
		r.Code, r.Node = phrase.CustomerPerhaps, d.Nodes[0]
	case d.Class == engine.Narrowed:
		r.Code = phrase.CustomerOneOf
	case d.NotListed == engine.NotListedLikely:
		r.Code = phrase.CustomerUnlisted
	case d.Class == engine.Contradictory:
		r.Code = phrase.CustomerUnsure
	}
	of := phrase.Reason{Text: c.ClaimSays}
	switch {
	case d.Claim.Answer == engine.Stands:
		of.Code = phrase.CustomerAgrees
	case d.Claim.Answer == engine.Falls && d.Claim.Why == phrase.TooUnlikely:
		of.Code = phrase.CustomerAgainst
	case d.Claim.Answer == engine.Falls:
		of.Code = phrase.CustomerNot
	default:
		return r
	}
	r.Then = []phrase.Reason{of}
	return r
}

// customerWhy is why: a name goes by the readings that alone would give it.
func (a *Asker) customerWhy(c *casefile.Case, d *engine.Decision, m engine.Moment) phrase.Reason {
	switch {
	case d.Faulty:
		return phrase.Reason{Code: phrase.CustomerMend}
	case d.Class == engine.Contradictory || d.NotListed == engine.NotListedLikely:
		return phrase.Reason{Code: phrase.CustomerFitsNone}
	case len(d.KeptBack) > 0:
		return phrase.Reason{Code: phrase.CustomerWaits, Rules: d.KeptBack[:1]}
	case d.Class == engine.Inconclusive:
		return a.customerFits(d)
	}
	rests := a.Rests(c, m)
	if len(rests.Sets) == 0 || len(rests.Sets[0].Readings) == 0 {
		return phrase.Reason{Code: phrase.CustomerTogether}
	}
	return phrase.Reason{Code: phrase.CustomerGoesBy, Readings: slices.DeleteFunc(slices.Clone(c.Readings),
		func(r *casefile.Reading) bool {
			return !slices.ContainsFunc(rests.Sets[0].Readings, func(x Reading) bool { return x.Name == r.Name() })
		})}
}

// customerFits is what an inconclusive case fits, likeliest first, where that is not everything.
func (a *Asker) customerFits(d *engine.Decision) phrase.Reason {
	r := phrase.Reason{Code: phrase.CustomerFits, Colours: d.Colours}
	open := a.candidates()
	if len(open) == len(a.rs.Leaves) || len(open) == 0 {
		return phrase.Reason{Code: phrase.CustomerNothing}
	}
	for _, i := range open {
		if m := engine.Told(a.rs.Leaves[i]); !slices.Contains(r.Nodes, m) {
			r.Nodes = append(r.Nodes, m)
		}
	}
	return r
}

// customerNext is what is open, or what comes next: what somebody is asked to do goes before what nobody here can tell.
func (a *Asker) customerNext(c *casefile.Case, d *engine.Decision, ex *engine.Explained) phrase.Reason {
	tests := a.testsOf(ex)
	switch {
	case len(ex.SentOn) > 0 && ex.SentOn[0].Rule != nil:
		return phrase.Reason{Code: phrase.CustomerSend, Text: a.rs.Rule(*ex.SentOn[0].Rule).SendsOn}
	case len(ex.Repeat) > 0:
		return phrase.Reason{Code: phrase.CustomerAgain, Observables: ex.Repeat[0]}
	case len(tests) > 0 && d.Class == engine.Identified:
		return phrase.Reason{Code: phrase.CustomerSurer, Tests: tests}
	case len(tests) > 0:
		return phrase.Reason{Code: phrase.CustomerTests, Tests: tests}
	case d.Claim.Why == phrase.OriginOpen:
		return phrase.Reason{Code: phrase.CustomerGrowth}
	case d.Class == engine.Identified && d.Claim.Answer != engine.Open:
		return phrase.Reason{Code: phrase.CustomerDone}
	case d.Class == engine.Identified && c.Claim != "":
		return phrase.Reason{Code: phrase.CustomerClaim, Text: c.ClaimSays}
	}
	return phrase.Reason{Code: phrase.CustomerMore}
}

// mostAsked is how many tests the third sentence asks for.
const mostAsked = 2

// testsOf are tests that rules call for, or else those that tell what was named from what the readings fit too.
func (a *Asker) testsOf(ex *engine.Explained) []*kb.Test {
	var out []*kb.Test
	ids := slices.Clone(ex.TellApart)
	for _, n := range ex.CallsFor {
		if n.Test != nil {
			ids = append(ids, *n.Test)
		}
	}
	for _, id := range ids {
		if t := a.rs.Test(id); t != nil && !slices.Contains(out, t) && len(out) < mostAsked {
			out = append(out, t)
		}
	}
	return out
}
