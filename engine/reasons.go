package engine

import (
	"math"

	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/quantity"
)

// Reason is what the verdict is, as far as the decision alone has it: Within words it in short.
func (d *Decision) Reason() phrase.Reason {
	r := phrase.Reason{Node: d.Named, Nodes: d.Nodes, Colours: d.Colours}
	switch d.Class {
	case Identified:
		r.Code = phrase.Identified
		if len(d.RestsOnPriors) > 0 {
			r.Then = []phrase.Reason{{Code: phrase.CommonHere, Other: d.RestsOnPriors[0], Colours: d.Colours}}
		}
	case Narrowed:
		if r.Code = phrase.NarrowedTo; len(d.Nodes) == 1 {
			r.Code, r.Node = phrase.NarrowedToOne, d.Nodes[0]
		}
	case Contradictory:
		r.Code = [...]phrase.Code{Listed: phrase.Contradictory, NotListedPossible: phrase.MaybeNotListed,
			NotListedLikely: phrase.LikelyOffList}[d.NotListed]
	default:
		r.Code, r.Rules = d.open()
	}
	return r
}

// open is why a case stays inconclusive, with the rules that it is for.
func (d *Decision) open() (phrase.Code, []*kb.Rule) {
	switch {
	case d.Faulty:
		return phrase.RulesFaulty, d.FaultyRules
	case d.NotListed == NotListedLikely:
		return phrase.NothingFits, nil
	case len(d.KeptBack) > 0:
		return phrase.AllWithheld, d.KeptBack
	case d.TooMany:
		return phrase.TooManyOpen, nil
	}
	return phrase.UnlistedOpen, nil
}

// verdict is what the verdict is, with what tells the named node from what the readings fit too, or lifts what is
// kept back.
func (j *Judge) verdict(c *casefile.Case, d *Decision) phrase.Reason {
	r := d.Reason()
	switch {
	case len(r.Then) > 0:
		then := &r.Then[0]
		then.Ratio = math.Exp(j.nodeLikelihood(d.Named) - j.nodeLikelihood(then.Other))
		if tests := j.tellsApart(c, d.Named, then.Other); len(tests) > 0 {
			r.Then = append(r.Then, phrase.Reason{Code: phrase.TellApart, Tests: tests})
		}
	case r.Code == phrase.AllWithheld:
		r.Then = j.Lift(r.Rules)
	case j.readings == 0 && (r.Code == phrase.TooManyOpen || r.Code == phrase.UnlistedOpen):
		r.Code = phrase.NothingCounts
	}
	return r
}

// ground is what decided an answer to the claim of the case.
func (j *Judge) ground(d *Decision, g phrase.Code, a Answer) phrase.Told {
	r := phrase.Reason{Code: g, Node: d.Named, Colours: d.Colours}
	told := r.Told()
	if g == phrase.NotListed && a == Falls {
		told.Says = r.Within()
	}
	return told
}

// ClaimReason is the answer to the claim of the case decided last, with what decided it.
func (j *Judge) ClaimReason(c *casefile.Case, d *Decision) phrase.Reason {
	a := &d.Claim
	r := phrase.Reason{Text: c.ClaimSays, Node: a.Group, Colours: d.Colours,
		Why: &phrase.Reason{Code: a.Why, Node: d.Named, Colours: d.Colours}}
	switch {
	case a.Answer == Stands && a.Why == phrase.Named:
		r.Code = phrase.ClaimStands
	case a.Answer == Stands:
		r.Code = phrase.ClaimStandsAs
	case a.Answer == Falls && a.Why == phrase.TooUnlikely:
		r.Code = phrase.ClaimUnlikely
	case a.Answer == Falls && a.Why == phrase.NotListed:
		r.Code = phrase.ClaimOffList
	case a.Answer == Falls:
		r.Code = phrase.ClaimFalls
	default:
		r.Code = phrase.ClaimOpen
		switch {
		case a.Group == nil || a.GroupAnswer == a.Answer:
		case a.GroupAnswer == Stands && a.Why != phrase.OriginOpen: // there it is told by the reason
			r.Then = []phrase.Reason{{Code: phrase.GroupStands, Node: a.Group, Colours: d.Colours}}
		case a.GroupAnswer == Falls:
			r.Then = []phrase.Reason{{Code: phrase.GroupFalls, Node: a.Group, Colours: d.Colours}}
		}
	}
	return r
}

// mostLifting is how many tests a sentence names.
const mostLifting = 4

// Lift names what may lift what rules keep back: tests, or the observables where no test can be done. Nothing:
// nothing can.
func (j *Judge) Lift(by []*kb.Rule) []phrase.Reason {
	r := phrase.Reason{Code: phrase.Lift, Tests: j.liftedBy(by)}
	if len(r.Tests) == 0 {
		for _, o := range j.e.lifts(by) {
			r.Observables = append(r.Observables, o.Name)
		}
	}
	if most := mostLifting; len(r.Tests) > most {
		r.Code, r.Tests = phrase.LiftAmong, r.Tests[:most]
	} else if len(r.Observables) > most {
		r.Code, r.Observables = phrase.LiftAmong, r.Observables[:most]
	}
	if len(r.Tests)+len(r.Observables) == 0 {
		return nil
	}
	return []phrase.Reason{r}
}

// exclusion is why an item excludes a leaf, with the values.
func (j *Judge) exclusion(it *item, i int) phrase.Reason {
	r := phrase.Reason{Node: j.leaf(i), Observables: []string{it.name}, Colours: j.colours()}
	switch {
	case it.rule != nil:
		r.Code, r.Rules = phrase.ByRule, []*kb.Rule{it.rule}
	case it.q.line != nil:
		if r.Code, r.Text, r.Range = phrase.OutOfRange, it.q.text(), it.q.line.ranges[i]; it.first != nil {
			r.Code, r.Readings = phrase.OutOfBand, it.first
		}
	case it.feature >= 0:
		r.Code, r.Text = phrase.NeverSeen, it.features()
	default:
		r.Code, r.Text = phrase.NeverShown, it.reading.Observable.Outcomes[it.reading.Outcome].Name
	}
	return r
}

func (q *quantityItem) text() string {
	switch {
	case q.form == casefile.Interval:
		return quantity.FormatBounds(q.lo, q.hi)
	case q.rays:
		return quantity.Text(q.x, q.u) + " and " + quantity.Text(q.high, q.highU)
	default:
		return quantity.Text(q.x, q.u)
	}
}

// spoilt is which need of its test the stone did not meet when a reading was taken.
func (j *Judge) spoilt(r *casefile.Reading) phrase.Reason {
	return phrase.Reason{Code: phrase.TestWants, Tests: j.tests(r.Tests[:1]), Text: r.Spoilt}
}

func (j *Judge) tests(ids []string) (out []*kb.Test) {
	for _, id := range ids {
		if t := j.e.Ruleset.Test(id); t != nil {
			out = append(out, t)
		}
	}
	return out
}
