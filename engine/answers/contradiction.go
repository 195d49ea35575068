package answers

import (
	"slices"

	"whystone/engine"
	"whystone/engine/answers/wording"
	"whystone/engine/phrase"
	"whystone/kb/casefile"
	"whystone/kb/english"
)

// Contradiction is how a contradictory case would resolve.
type Contradiction struct {
	Head
	Contradictory bool   `json:"contradictory"`
	NotListed     string `json:"not_listed,omitempty"` // likely or possible
	phrase.Told
	// Sets are the smallest sets of readings without which it is none, or fits something listed; fewest readings first,
	// then most doubtful.
	Sets []Resolution `json:"sets"`
}

// Resolution is a set of readings to repeat, and what it points to if they turn out to be mistaken.
type Resolution struct {
	Readings []Reading      `json:"readings"`
	Doubt    float64        `json:"doubt"` // how doubtful they are together, from the weights of the case
	To       wording.Result `json:"to"`    // the verdict without them
	phrase.Told
}

// Contradiction finds the readings whose repetition would resolve a contradictory case, or one that fits nothing
// listed.
func (a *Asker) Contradiction(c *casefile.Case, m engine.Moment) *Contradiction {
	d := a.decide(c, m.On)
	out := &Contradiction{Head: head(c, &d),
		Contradictory: d.Class == engine.Contradictory, NotListed: d.NotListed.String(), Sets: []Resolution{}}
	if !out.Contradictory && d.NotListed != engine.NotListedLikely {
		out.Says, out.Code = phrase.Sentences([]phrase.Reason{{Code: phrase.Consistent}}), phrase.Consistent
		return out
	}
	for _, r := range a.judge.Repeats(c, m.On, &d) {
		set := slices.DeleteFunc(slices.Clone(c.Readings),
			func(x *casefile.Reading) bool { return !slices.Contains(r.Readings, x.Name()) })
		rest := a.decide(without(c, set), m.On)
		to := rest.Reason()
		out.Sets = append(out.Sets, Resolution{Readings: toldAll(set), Doubt: r.Doubt, To: wording.Of(&rest),
			Told: phrase.Reason{Code: phrase.IfMistaken, Readings: set, Why: &to}.Told()})
	}
	says := []phrase.Reason{Contradicts(&d), {Code: phrase.NoThree}}
	if len(out.Sets) > 0 {
		says[1] = phrase.Reason{Code: phrase.Likeliest,
			Observables: english.Each(out.Sets[0].Readings, func(r Reading) string { return r.Name })}
	}
	out.Told = says[0].Told()
	out.Says = phrase.Sentences(says)
	return out
}

// Contradicts is why a case is contradictory, or fits nothing that is listed.
func Contradicts(d *engine.Decision) phrase.Reason {
	return phrase.Reason{Code: [...]phrase.Code{engine.Listed: phrase.NotAllTrue,
		engine.NotListedPossible: phrase.EitherOr, engine.NotListedLikely: phrase.LikelyNot}[d.NotListed]}
}
