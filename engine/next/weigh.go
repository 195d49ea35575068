package next

import (
	"whystone/kb/casefile"
)

// figures are what a look is expected to bring.
type figures struct {
	look      look
	drop      float64    // nats
	reduction float64    // currency
	better    float64    // how likely the verdict gets further
	classes   [4]float64 // how likely it ends in a verdict of each
	played    []played
}

// played is an outcome with what the engine makes of it.
type played struct {
	outcome
	state state
}

// unclearReason is what an inconclusive reading says that is only imagined.
const unclearReason = "played as inconclusive"

// hypothesis is a look at a case, with all that it can come to.
type hypothesis struct {
	c       *casefile.Case
	base    *state
	look    look
	unclear float64 // how likely it stays inconclusive
	list    []outcome
}

// weigh plays all outcomes of looks: those that each can come to, and behind them that it stays inconclusive.
func (p *player) weigh(looks []hypothesis) []figures {
	out := make([]figures, len(looks))
	type play struct {
		of int
		outcome
	}
	total := 0
	for n := range looks {
		total += len(looks[n].list) + 1
	}
	plays := make([]play, 0, total)
	for n := range looks {
		h := &looks[n]
		out[n].look = h.look
		for _, o := range h.list {
			plays = append(plays, play{n, o})
		}
		plays = append(plays, play{n, outcome{reading: h.look.source.Unclear(unclearReason)}})
		out[n].played = make([]played, 0, len(h.list)+1)
	}
	p.plays(true, len(plays), func(i int) (*casefile.Case, *casefile.Reading) {
		return looks[plays[i].of].c, plays[i].reading
	}, func(i int, s *state) {
		x := &plays[i]
		f, h := &out[x.of], &looks[x.of]
		mass := (1 - h.unclear) * x.mass
		if len(f.played) == len(h.list) {
			x.mass, mass = h.unclear, h.unclear
		}
		f.played = append(f.played, played{outcome: x.outcome, state: *s})
		f.count(h.base, s, mass)
	})
	return out
}

func (f *figures) count(base, s *state, mass float64) {
	f.drop += mass * (base.entropy - s.entropy)
	f.reduction += mass * (base.loss - s.loss)
	f.classes[s.decision.Class] += mass
	if s.rank > base.rank {
		f.better += mass
	}
}

// nothing is how small an expected drop of entropy, in nats, tells nothing.
const nothing = 1e-3

// tells tells whether the look is expected to tell anything: by what it leaves open, or by what it lets the house do.
func (f *figures) tells(cost *costs) bool {
	return f.drop >= nothing || f.reduction > 1e-6*cost.sendOn || f.better > 1e-3
}
