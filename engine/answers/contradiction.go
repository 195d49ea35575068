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
	Says          string         `json:"says"`
	// Sets are the smallest sets of readings without which it is none; fewest readings first, then most doubtful.
	Sets []Resolution `json:"sets"`
}

// Resolution is a set of readings to repeat, and what it points to if they turn out to be mistaken.
type Resolution struct {
	Readings []Reading      `json:"readings"`
	Doubt    float64        `json:"doubt"` // how doubtful they are together, from the weights of the case
	To       wording.Result `json:"to"`    // the verdict without them
	Says     string         `json:"says"`
}

// Contradiction finds the readings whose repetition would resolve a contradictory case.
func (a *Asker) Contradiction(c *casefile.Case, m engine.Moment) *Contradiction {
	d := a.decide(c, m.On)
	out := &Contradiction{Format: Format, Case: c.ID, Verdict: wording.Of(&d), Contradictory: d.Class == engine.Contradictory, Sets: []Resolution{}}
	if !out.Contradictory {
		out.Says = "The readings can be true together."
		return out
	}
	for _, r := range a.judge.Repeats(c, m.On, &d) {
		set := slices.DeleteFunc(slices.Clone(c.Readings), func(x *casefile.Reading) bool { return !slices.Contains(r.Readings, x.Name()) })
		rest := a.decide(without(c, set), m.On)
		to := wording.Of(&rest)
		out.Sets = append(out.Sets, Resolution{Readings: toldAll(set), Doubt: r.Doubt, To: to,
			Says: fmt.Sprintf("Repeat %s. If that was mistaken, the other readings make it %s.", phrase(set), to.Says)})
	}
	out.Says = "The readings can't all be true of one listed material. No three of them, left out, would resolve it: it may be a material that is not listed."
	if len(out.Sets) > 0 {
		out.Says = fmt.Sprintf("The readings can't all be true of one listed material. The likeliest mistake is %s.", engine.List(names(out.Sets[0].Readings), "and"))
	}
	return out
}

func names(list []Reading) []string {
	var out []string
	for _, r := range list {
		out = append(out, r.Name)
	}
	return out
}
