package next

import (
	"whystone/engine"
	"whystone/engine/next/feasible"
	"whystone/kb/casefile"
)

// figures are what a look is expected to bring.
type figures struct {
	look      look
	drop      float64 // nats
	reduction float64 // currency
	better    float64 // how likely the verdict gets further
	classes   [4]float64
	played    []played
}

// played is an outcome with what the engine makes of it.
type played struct {
	outcome
	state state
}

// unclearReason is what an inconclusive reading says that is only imagined.
const unclearReason = "played as inconclusive"

// weigh plays all outcomes of a look: those that it can come to, and that it stays inconclusive, which is as likely as
// unclear; what that leads to is handed over, as it is the same for all looks at one observable.
func (p *player) weigh(c *casefile.Case, base *state, w []float64, l look, m mesh, unclear float64,
	dim *played) figures {
	f := figures{look: l}
	for _, o := range p.outcomes(c, l, w, m) {
		f.played = append(f.played, played{outcome: o, state: p.play(feasible.With(c, o.reading))})
		f.count(base, &f.played[len(f.played)-1].state, (1-unclear)*o.mass)
	}
	d := *dim
	d.mass = unclear
	f.played = append(f.played, d)
	f.count(base, &d.state, unclear)
	return f
}

// dim plays a look that stays inconclusive.
func (p *player) dim(c *casefile.Case, l look) *played {
	r := l.source.Unclear(unclearReason)
	return &played{outcome: outcome{reading: r}, state: p.play(feasible.With(c, r))}
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

// decision is how many of the outcomes end in a verdict of a class.
func (f *figures) decision(c engine.Class) float64 { return f.classes[c] }
