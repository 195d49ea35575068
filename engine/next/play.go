package next

import (
	"math"
	"time"

	"whystone/engine"
	"whystone/engine/answers/wording"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/logic"
)

// state is where a case stands: what the engine makes of it.
type state struct {
	decision engine.Decision
	result   wording.Result
	entropy  float64 // nats, over all leaves of weight above zero and what is unlisted
	loss     float64 // currency
	rank     int
	sentOn   bool
	cautions []int // the player's rules with a caution that hold
}

// player plays cases through the engine. One goroutine uses it at a time.
type player struct {
	e     *engine.Engine
	judge *engine.Judge
	sheet *engine.Judge // asked what the sheets say of outcomes
	c     []float64
	sends []*kb.Rule // active rules that send stones on
	warns []*kb.Rule // active rules with a caution
	cost  costs
	on    time.Time
}

func newPlayer(e *engine.Engine) *player {
	p := &player{e: e, judge: e.NewJudge(), sheet: e.NewJudge(), c: make([]float64, len(e.Ruleset.Leaves))}
	for _, r := range e.Ruleset.Order {
		if r.SendsOn != "" && r.Status == kb.Active {
			p.sends = append(p.sends, r)
		}
		if len(r.Cautions) > 0 && r.Status == kb.Active {
			p.warns = append(p.warns, r)
		}
	}
	return p
}

// look judges a case, and looks at what somebody would be told.
func (p *player) look(c *casefile.Case) state {
	var s state
	p.judge.Decide(c, p.on, &s.decision)
	for _, r := range p.sends {
		s.sentOn = s.sentOn || p.judge.Truth(r) == logic.Holds
	}
	for i, r := range p.warns {
		if p.judge.Truth(r) == logic.Holds {
			s.cautions = append(s.cautions, i)
		}
	}
	return s
}

// play judges a case and looks at what comes of it; the verdict in words is left out.
func (p *player) play(c *casefile.Case) state {
	s := p.look(c)
	s.entropy = p.entropy()
	s.loss = p.cost.loss(p.judge, &s.decision, s.sentOn)
	s.rank = rank(p.judge, &s.decision)
	return s
}

func (p *player) entropy() float64 {
	h := plog(p.judge.Weight(engine.Unlisted))
	for i := range p.e.Ruleset.Leaves {
		h += plog(p.judge.Weight(i))
	}
	return h
}

// plog is -w ln w, zero at zero.
func plog(w float64) float64 {
	if w <= 0 {
		return 0
	}
	return -w * math.Log(w)
}

// weights lists the weight of every leaf of the case that was played last, and that of what is unlisted after them.
func (p *player) weights() []float64 {
	n := len(p.e.Ruleset.Leaves)
	w := make([]float64, n+1)
	for i := range n {
		w[i] = p.judge.Weight(i)
	}
	w[n] = p.judge.Weight(engine.Unlisted)
	return w
}

// likely is how likely a reading is under each leaf of weight above zero, blunders counted, and under what is
// unlisted: a probability, or for a value a density. Rules have no part in it.
func (p *player) likely(r *casefile.Reading, w, to []float64) []float64 {
	return p.spread(p.sheet.Outcome(r, p.c), w, to)
}

// spread turns contributions and what is likely on any stone into likelihoods by leaf.
func (p *player) spread(any float64, w, to []float64) []float64 {
	to = to[:0]
	for i, c := range p.c {
		switch {
		case w[i] == 0:
			to = append(to, 0)
		case c == 0:
			to = append(to, any)
		default:
			to = append(to, any*math.Exp(c))
		}
	}
	return append(to, any)
}
