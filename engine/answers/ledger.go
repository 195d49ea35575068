package answers

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"whystone/engine"
	"whystone/engine/answers/wording"
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
	Says    string  `json:"says"`

	one, other string // how sentences name them
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
	Says       string    `json:"says"`
}

// side is a leaf that stands for a node, under the node's name.
type side struct {
	leaf int
	name string
}

// ledger sets two leaves of the case that was decided last against each other.
func (a *Asker) ledger(c *casefile.Case, mine, theirs side) *Ledger {
	one, other := mine.leaf, theirs.leaf
	l := &Ledger{For: a.id(one), Against: a.id(other), one: mine.name, other: theirs.name}
	prior := Line{Kind: "prior", Name: "prior", For: a.judge.LogPrior(one), Against: a.judge.LogPrior(other)}
	prior.Difference = prior.For - prior.Against
	prior.Says = a.priorSays(prior.Difference, one, other)
	l.Lines = append(l.Lines, prior)
	ours, others := a.judge.Terms(one), a.judge.Terms(other)
	for i := range ours {
		l.Lines = append(l.Lines, line(c, &ours[i], &others[i], mine.name, theirs.name))
	}
	for i, x := range l.Lines {
		l.Gap += x.Difference
		if i > 0 {
			l.Support += x.Difference
		}
	}
	l.Says = wording.Support(a.rs.Policy, l.Support, mine.name, theirs.name)
	return l
}

func (a *Asker) priorSays(gap float64, one, other int) string {
	switch {
	case math.Abs(gap) < 0.05:
		return fmt.Sprintf("Before any reading: the house sees both equally often (%s and %s).", a.name(one), a.name(other))
	case gap < 0:
		gap, one, other = -gap, other, one
	}
	return fmt.Sprintf("Before any reading: the house sees %s %s times as often as %s.", a.name(one), engine.Figures(math.Exp(gap)), a.name(other))
}

func line(c *casefile.Case, mine, theirs *engine.Term, one, other string) Line {
	l := Line{Kind: "reading", Name: mine.Name, Family: mine.Family, For: mine.Counts, Against: theirs.Counts, Difference: mine.Counts - theirs.Counts,
		Excludes: theirs.Excludes}
	some := mine.Readings
	if mine.Rule != nil {
		l.Kind, some = "rule", namedBy(c, mine.Rule)
	}
	l.Readings = toldAll(some)
	what := subject(mine, some)
	l.Says = fmt.Sprintf("%s: %s.", what, wording.Times(l.Difference, one, other))
	if l.For == 0 && l.Against == 0 && (mine.C != 0 || theirs.C != 0) {
		l.Says = fmt.Sprintf("%s: counts no further, as something that rests on the same readings says more.", what)
	}
	if theirs.Excludes {
		l.Says += " " + stop(capital(theirs.Says))
	}
	return l
}

// subject says what a piece of evidence is: the reading, the feature of it, or the rule on readings.
func subject(t *engine.Term, some []*casefile.Reading) string {
	switch {
	case t.Rule != nil && len(some) > 0:
		return fmt.Sprintf("the rule %q on %s", t.Rule.ID, phrase(some))
	case t.Rule != nil:
		return fmt.Sprintf("the rule %q", t.Rule.ID)
	case len(some) > 1:
		return phrase(some)
	case some[0].Form == casefile.Features:
		name, feature, _ := strings.Cut(t.Name, ": ")
		if i, ok := some[0].Observable.Outcome(feature); ok && !some[0].Seen.Has(i) {
			feature = "no " + feature
		}
		return engine.InWords(name) + ": " + feature
	case t.Name != some[0].Observable.Name:
		return engine.InWords(t.Name) + " from " + phrase(some)
	}
	return phrase(some)
}

// namedBy lists the readings that a rule's evidence rests on; two rays give the double refraction too.
func namedBy(c *casefile.Case, r *kb.Rule) []*casefile.Reading {
	var out []*casefile.Reading
	for _, x := range c.Readings {
		if !x.Usable() {
			continue
		}
		if slices.ContainsFunc(r.Observes, func(o *vocab.Observable) bool {
			return o == x.Observable || x.Form == casefile.Pair && o.Name == vocab.Birefringence
		}) {
			out = append(out, x)
		}
	}
	return out
}
