package answers

import (
	"cmp"
	"slices"

	"whystone/engine"
	"whystone/engine/diff"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/logic"
)

// MaxRests is how many readings a set may have that is looked for.
const MaxRests = 4

// maxTried bounds how many cases are judged for one answer.
const maxTried = 60000

// Rests is what a verdict rests on.
type Rests struct {
	Head
	phrase.Told
	// Sets are all smallest sets of readings that alone give the same verdict: of one class, naming the same. There are
	// none when more readings are needed than were looked for.
	Sets      []Resting `json:"sets"`
	NotNeeded []Reading `json:"not_needed"` // readings in none of the sets; empty when there are no sets
	Searched  int       `json:"searched"`   // sets of up to so many readings were tried
}

// Resting is a set of readings that alone gives the verdict.
type Resting struct {
	Readings []Reading `json:"readings"`
	phrase.Told
}

// Rests finds what a verdict rests on.
func (a *Asker) Rests(c *casefile.Case, m engine.Moment) *Rests {
	d := a.decide(c, m.On)
	out := &Rests{Head: head(c, &d), Sets: []Resting{}, NotNeeded: []Reading{}}
	a.run.Do(c, m.On)
	needed := map[*casefile.Reading]bool{}
	tried := 0
	for size := 0; size <= min(MaxRests, len(c.Readings)) && len(out.Sets) == 0; size++ {
		if tried += count(len(c.Readings), size, maxTried); tried > maxTried {
			break
		}
		out.Searched = size
		engine.Sets(len(c.Readings), size, func(set []int) bool {
			some := pick(c.Readings, set)
			if alone := a.decide(only(c, some), m.On); diff.SameVerdict(&alone, &d) {
				out.Sets = append(out.Sets, Resting{Readings: a.but(toldAll(some), some),
					Told: restingSays(some).Told()})
				for _, r := range some {
					needed[r] = true
				}
			}
			return true
		})
	}
	slices.SortStableFunc(out.Sets, func(x, y Resting) int { return cmp.Compare(x.buts(), y.buts()) })
	if len(out.Sets) > 0 {
		out.NotNeeded = toldAll(slices.DeleteFunc(slices.Clone(c.Readings),
			func(r *casefile.Reading) bool { return needed[r] }))
	}
	out.Told = sentence(restsSays(out, &d))
	return out
}

// but notes which readings the stone does not suit, and beside which a caution stands that is about nothing else.
func (a *Asker) but(told []Reading, some []*casefile.Reading) []Reading {
	for i, r := range some {
		for _, id := range r.Tests {
			if n := a.run.Needs(a.rs.Test(id)); !n.Feasible() {
				told[i].But = phrase.Reason{Code: phrase.DoesNotSuit, Tests: []*kb.Test{a.rs.Test(id)}}.Says()
			}
		}
		if told[i].But == "" && slices.ContainsFunc(a.rs.Order, func(x *kb.Rule) bool { return a.warnsOf(x, r) }) {
			told[i].But = phrase.Reason{Code: phrase.WithCaution}.Says()
		}
	}
	return told
}

// warnsOf tells whether a rule cautions of one reading alone.
func (a *Asker) warnsOf(x *kb.Rule, r *casefile.Reading) bool {
	return len(x.Cautions) > 0 && x.Status == kb.Active && a.run.Rules[x.Turn] == logic.Holds && len(x.Observes) == 1 &&
		x.Observes[0] == r.Observable
}

// buts is how many readings of a set have something against them.
func (r *Resting) buts() int {
	n := 0
	for _, x := range r.Readings {
		if x.But != "" {
			n++
		}
	}
	return n
}

func restingSays(some []*casefile.Reading) phrase.Reason {
	if len(some) == 0 {
		return phrase.Reason{Code: phrase.ByNone}
	}
	return phrase.Reason{Code: phrase.AloneBy, Readings: some}
}

// stoneIs begins a sentence on a verdict.
func stoneIs(d *engine.Decision) phrase.Reason {
	why := d.Reason()
	if d.Class == engine.Contradictory || d.Class == engine.Inconclusive {
		return phrase.Reason{Code: phrase.VerdictIs, Why: &why}
	}
	return phrase.Reason{Code: phrase.StoneIs, Why: &why}
}

func restsSays(r *Rests, d *engine.Decision) phrase.Reason {
	on := phrase.Reason{Code: phrase.OnSets, Count: len(r.Sets)}
	switch {
	case len(r.Sets) == 0:
		on = phrase.Reason{Code: phrase.MoreTogether, Count: r.Searched}
	case len(r.Sets[0].Readings) == 0:
		on.Code = phrase.NoneIsNeeded
	case len(r.Sets) == 1 && len(r.Sets[0].Readings) == 1:
		on.Code = phrase.OnOneReading
	case len(r.Sets) == 1:
		on = phrase.Reason{Code: phrase.OnOneSet, Count: len(r.Sets[0].Readings)}
	case len(r.Sets[0].Readings) == 1:
		on.Code = phrase.OnEach
	default:
		on.Of = len(r.Sets[0].Readings)
	}
	says := stoneIs(d)
	says.Then = []phrase.Reason{on}
	return says
}
