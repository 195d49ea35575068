package answers

import (
	"slices"
	"strings"

	"whystone/engine"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/vocab"
)

// Ledger is the evidence between two leaves, piece by piece: what counts for one less what counts for the other. The
// differences, added up in their order, are the gap between the two log-weights.
type Ledger struct {
	For     string  `json:"for"`     // the leaf that stands for the verdict
	Against string  `json:"against"` // the other
	Lines   []Line  `json:"lines"`
	Gap     float64 `json:"gap"`     // the sum of the differences: positive where the first is ahead
	Support float64 `json:"support"` // the same without the prior: what the readings alone say
	phrase.Told

	one, other *kb.Material // nil: what the ruleset lacks
}

// Line is one line of a ledger.
type Line struct {
	Kind       string    `json:"kind"` // prior, reading or rule
	Name       string    `json:"name"`
	Family     string    `json:"family,omitempty"`
	Readings   []Reading `json:"readings,omitempty"`
	For        float64   `json:"for"`        // what counts for the one
	Against    float64   `json:"against"`    // and for the other
	Difference float64   `json:"difference"` // For less Against
	Excludes   bool      `json:"excludes"`   // it excludes the other
	phrase.Told
}

// side is a leaf that stands for a node.
type side struct {
	leaf int
	node *kb.Material
}

// ledger sets two leaves of the case that was decided last against each other.
func (a *Asker) ledger(c *casefile.Case, mine, theirs side) *Ledger {
	one, other := mine.leaf, theirs.leaf
	if mine.node != nil && theirs.node != nil && theirs.node.Under(mine.node) {
		mine.node = a.material(one) // a part of it is set against another part, and not against the whole
	}
	l := &Ledger{For: a.id(one), Against: a.id(other), one: mine.node, other: theirs.node}
	prior := Line{Kind: "prior", Name: "prior", For: a.judge.LogPrior(one), Against: a.judge.LogPrior(other)}
	prior.Difference = prior.For - prior.Against
	prior.Told = sentence(phrase.SeenBefore(prior.Difference, a.material(one), a.material(other)))
	l.Lines = append(l.Lines, prior)
	ours, others := a.judge.Terms(one), a.judge.Terms(other)
	for i := range ours {
		if silent(&ours[i]) && silent(&others[i]) {
			continue
		}
		l.Lines = append(l.Lines, line(c, &ours[i], &others[i], mine.node, theirs.node))
	}
	for i, x := range l.Lines {
		l.Gap += x.Difference
		if i > 0 {
			l.Support += x.Difference
		}
	}
	l.Told = l.support(a.rs.Policy).Told()
	return l
}

// silent tells whether a rule says nothing of a leaf.
func silent(t *engine.Term) bool { return t.Rule != nil && t.C == 0 && !t.Excludes }

// sentence is a reason told as a sentence of its own.
func sentence(r phrase.Reason) phrase.Told {
	told := r.Told()
	told.Says = phrase.Sentence(told.Says)
	return told
}

// support is what the readings alone say between the two.
func (l *Ledger) support(p *kb.Policy) phrase.Reason {
	return phrase.SupportOf(p, l.Support, l.one, l.other)
}

func line(c *casefile.Case, mine, theirs *engine.Term, one, other *kb.Material) Line {
	l := Line{Kind: "reading", Name: mine.Name, Family: mine.Family, For: mine.Counts, Against: theirs.Counts,
		Difference: mine.Counts - theirs.Counts, Excludes: theirs.Excludes}
	some := mine.Readings
	if len(theirs.Readings) > len(some) {
		some = theirs.Readings // on the other, what was read beside it counts too
	}
	if mine.Rule != nil {
		l.Kind, some = "rule", namedBy(c, mine.Rule)
	}
	l.Readings = toldAll(some)
	what, compared := subject(mine, some), phrase.Compared(l.Difference, one, other)
	if l.For == 0 && l.Against == 0 && (mine.C != 0 || theirs.C != 0) {
		compared = phrase.Reason{Code: phrase.NoFurther}
	}
	says := []phrase.Reason{{Code: phrase.Says, Why: &what, Then: []phrase.Reason{compared}}}
	if theirs.Excludes {
		says = append(says, phrase.Reason{Code: phrase.Out, Node: theirs.Why.Node, Why: theirs.Why,
			Colours: theirs.Why.Colours})
	}
	l.Told = phrase.Told{Says: phrase.Sentences(says), Values: compared.Values()}
	return l
}

// subject is what a piece of evidence is: the reading, the feature of it, or the rule on readings.
func subject(t *engine.Term, some []*casefile.Reading) phrase.Reason {
	r := phrase.Reason{Code: phrase.OnReadings, Readings: some, Observables: []string{t.Name}}
	switch {
	case t.Rule != nil:
		r.Rules = []*kb.Rule{t.Rule}
		if r.Code = phrase.OnRuleRead; len(some) == 0 {
			r.Code = phrase.OnRule
		}
	case len(some) > 1:
	case some[0].Form == casefile.Features:
		r.Code = phrase.OnFeature
		name, feature, _ := strings.Cut(t.Name, ": ")
		if i, ok := some[0].Observable.Outcome(feature); ok && !some[0].Seen.Has(i) {
			r.Observables = []string{name + ": no " + feature}
		}
	case t.Name != some[0].Observable.Name:
		r.Code = phrase.OnDerived
	}
	return r
}

// namedBy lists the readings that a rule's evidence rests on; two rays give the double refraction too.
func namedBy(c *casefile.Case, r *kb.Rule) []*casefile.Reading {
	return slices.DeleteFunc(slices.Clone(c.Readings), func(x *casefile.Reading) bool {
		return !x.Usable() || !slices.ContainsFunc(r.Observes, func(o *vocab.Observable) bool {
			return o == x.Observable || x.Form == casefile.Pair && o.Name == vocab.Birefringence
		})
	})
}
