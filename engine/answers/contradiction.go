package answers

import (
	"fmt"
	"slices"

	"whystone/engine"
	"whystone/engine/answers/wording"
	"whystone/kb/casefile"
)

// Contradiction is how a contradictory case would resolve.
type Contradiction struct {
	Format        int            `json:"format"`
	Case          string         `json:"case"`
	Verdict       wording.Result `json:"verdict"`
	Contradictory bool           `json:"contradictory"`
	NotListed     string         `json:"not_listed,omitempty"` // likely or possible
	Says          string         `json:"says"`
	// Sets are the smallest sets of readings without which it is none, or fits something listed; fewest readings first, then most doubtful.
	Sets []Resolution `json:"sets"`
}

// Resolution is a set of readings to repeat, and what it points to if they turn out to be mistaken.
type Resolution struct {
	Readings []Reading      `json:"readings"`
	Doubt    float64        `json:"doubt"` // how doubtful they are together, from the weights of the case
	To       wording.Result `json:"to"`    // the verdict without them
	Says     string         `json:"says"`
}

// Contradiction finds the readings whose repetition would resolve a contradictory case, or one that fits nothing listed.
func (a *Asker) Contradiction(c *casefile.Case, m engine.Moment) *Contradiction {
	d := a.decide(c, m.On)
	out := &Contradiction{Format: Format, Case: c.ID, Verdict: wording.Of(&d), Contradictory: d.Class == engine.Contradictory,
		NotListed: d.NotListed.String(), Sets: []Resolution{}}
	if !out.Contradictory && d.NotListed != engine.NotListedLikely {
		out.Says = "The readings can be true together."
		return out
	}
	for _, r := range a.judge.Repeats(c, m.On, &d) {
		set := slices.DeleteFunc(slices.Clone(c.Readings), func(x *casefile.Reading) bool { return !slices.Contains(r.Readings, x.Name()) })
		rest := a.decide(without(c, set), m.On)
		to := wording.Of(&rest)
		out.Sets = append(out.Sets, Resolution{Readings: toldAll(set), Doubt: r.Doubt, To: to,
			Says: fmt.Sprintf("Take %s again. If that was mistaken, the other readings make it %s.", phrase(set), to.Says)})
	}
	out.Says = contradictionSays(&d)
	if d.NotListed == engine.NotListedLikely {
		out.Says = likelyNotListed
	}
	if len(out.Sets) > 0 {
		out.Says += fmt.Sprintf(" The likeliest mistake is %s.", inWords(out.Sets[0].Readings))
	} else {
		out.Says += " No three of the readings, left out, would resolve it."
	}
	return out
}

const likelyNotListed = "No listed stone fits all these readings: it is likely not on this list."

// contradictionSays says first whether the stone may be none of those that are listed.
func contradictionSays(d *engine.Decision) string {
	switch d.NotListed {
	case engine.NotListedLikely:
		return likelyNotListed
	case engine.NotListedPossible:
		return "No listed stone fits all these readings. Either it is not on this list, or a reading is wrong."
	}
	return "The readings can't all be true of one listed stone."
}

// inWords names readings as a sentence does.
func inWords(list []Reading) string {
	words := make([]string, len(list))
	for i, r := range list {
		words[i] = engine.InWords(r.Name)
	}
	return engine.List(words, "and")
}
