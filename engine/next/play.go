package next

import (
	"math"
	"slices"
	"time"

	"whystone/engine"
	"whystone/engine/answers/wording"
	"whystone/engine/next/feasible"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/condition"
	"whystone/kb/eval"
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
//
// Hypotheses, cases that differ from the one on the bench in a reading, are played many at a time: the rules are run
// for all of them together, and one that rests on the same grounds as the case itself, or as the one before it, is not
// judged again.
type player struct {
	e     *engine.Engine
	judge *engine.Judge
	sheet *engine.Judge // asked what the sheets say of outcomes
	c     []float64
	sends []*kb.Rule // active rules that send stones on
	warns []*kb.Rule // active rules with a caution
	cost  costs
	on    time.Time

	block      *eval.Block
	cases      []casefile.Case    // by lane
	laid       []*casefile.Case   // likewise, what each is made of
	readings   []casefile.Reading // likewise, of readings that nobody keeps
	base, last grounds
	now        state // of the lane at hand
	cautions   []int
	room, pad  []float64 // for numbers, and for scratch
	used       int       // of pad
}

// grounds are what a state rests on.
type grounds struct {
	engine.Grounds
	state state
	known bool
}

func newPlayer(e *engine.Engine) *player {
	p := &player{e: e, judge: e.NewJudge(), sheet: e.NewJudge(), c: make([]float64, len(e.Ruleset.Leaves)),
		block: eval.NewBlock(e.Ruleset), cases: make([]casefile.Case, condition.Lanes),
		laid:     make([]*casefile.Case, condition.Lanes),
		readings: make([]casefile.Reading, condition.Lanes)}
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

// begin puts a case on the bench, whose usable readings have numbers of their own.
func (p *player) begin(c *casefile.Case, cost costs, on time.Time) {
	p.cost, p.on, p.base.known = cost, on, false
	p.judge.Remember()
	p.block.Forget()
	p.plays(true, 1, func(int) (*casefile.Case, *casefile.Reading) { return c, nil }, func(_ int, s *state) {
		p.base, p.last = p.last, p.base
		p.base.state = *s
	})
}

// numbered is a case whose usable readings bear numbers.
func numbered(c *casefile.Case) *casefile.Case {
	out := *c
	out.Readings = nil
	for i, r := range c.Readings {
		again := *r
		if again.Known = 0; r.Usable() {
			again.Known = i + 1
		}
		out.Readings = append(out.Readings, &again)
	}
	return &out
}

// plays plays hypotheses, each a case with a reading more, and hands on what comes of them in their order. Entropy,
// loss and rank are worked out where they are asked for.
func (p *player) plays(expected bool, n int, of func(i int) (*casefile.Case, *casefile.Reading),
	each func(i int, s *state)) {
	p.last.known = false
	for from := 0; from < n; from += condition.Lanes {
		to := min(n, from+condition.Lanes)
		p.block.Clear()
		for i := from; i < to; i++ {
			p.block.Add(p.lay(i-from, of, i), p.on)
		}
		p.block.Run()
		for i := from; i < to; i++ {
			p.now = p.lane(i-from, expected)
			each(i, &p.now)
		}
	}
}

// lay makes a hypothesis in a lane's memory.
func (p *player) lay(lane int, of func(i int) (*casefile.Case, *casefile.Reading), i int) *casefile.Case {
	c, r := of(i)
	out := &p.cases[lane]
	readings := out.Readings
	if p.laid[lane] != c {
		*out, p.laid[lane] = *c, c
	}
	if r == nil {
		out.Readings = feasible.Readings(readings, c)
	} else {
		out.Readings = feasible.Readings(readings, c, r)
	}
	return out
}

// lane is what comes of a lane of the block.
func (p *player) lane(lane int, expected bool) (s state) {
	var room [2]*engine.Grounds
	known := room[:0]
	if p.base.known {
		known = append(known, &p.base.Grounds)
	}
	if p.last.known {
		known = append(known, &p.last.Grounds)
	}
	truth := func(r *kb.Rule) logic.Value { return p.block.Truth(r.Turn, lane) }
	switch on := p.judge.DecideLaneUnless(p.block, lane, &s.decision, known...); {
	case on == nil:
		if p.block.Odd(lane) {
			truth = p.judge.Truth
		}
		s.told(p, truth)
		if expected {
			s.expect(p)
		}
		if !p.block.Odd(lane) {
			p.judge.Note(p.block, lane, &p.last.Grounds)
			p.last.state, p.last.known = s, true
		}
		return s
	case on == &p.base.Grounds:
		s = p.base.state
	default:
		s = p.last.state
	}
	s.told(p, truth)
	return s
}

// told looks at what somebody would be told beside the verdict.
func (s *state) told(p *player, truth func(r *kb.Rule) logic.Value) {
	s.sentOn = false
	for _, r := range p.sends {
		s.sentOn = s.sentOn || truth(r) == logic.Holds
	}
	p.cautions = p.cautions[:0]
	for i, r := range p.warns {
		if truth(r) == logic.Holds {
			p.cautions = append(p.cautions, i)
		}
	}
	if s.cautions = p.last.state.cautions; !slices.Equal(p.cautions, s.cautions) { // most have the same
		s.cautions = slices.Clone(p.cautions)
	}
}

// expect works out what the house has to expect, of the case that was decided last.
func (s *state) expect(p *player) {
	s.entropy = p.entropy()
	s.loss = p.cost.loss(p.judge, &s.decision, s.sentOn)
	s.rank = rank(p.judge, &s.decision)
}

// play judges a case by itself and looks at what comes of it; the verdict in words is left out. The judge can be asked
// about it then.
func (p *player) play(c *casefile.Case) (s state) {
	p.judge.Decide(c, p.on, &s.decision)
	s.told(p, p.judge.Truth)
	s.expect(p)
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
func (p *player) likely(r *casefile.Reading, alive []int, to []float64) []float64 {
	return p.spread(p.sheet.Outcome(r, alive, p.c), alive, to)
}

// spread turns contributions and what is likely on any stone into likelihoods by leaf. Those of leaves that are not
// alive stay zero.
func (p *player) spread(any float64, alive []int, out []float64) []float64 {
	last, ratio := 0.0, 1.0 // many in a row are alike
	for _, i := range alive {
		if c := p.c[i]; c != last {
			last, ratio = c, math.Exp(c)
		}
		if out[i] = any; last != 0 {
			out[i] = any * ratio
		}
	}
	out[len(p.c)] = any
	return out
}

// numbers are a zero for each leaf and for what is unlisted.
func (p *player) numbers() []float64 {
	n := len(p.c) + 1
	if len(p.room) < n {
		p.room = make([]float64, 16*n)
	}
	out := p.room[:n:n]
	p.room = p.room[n:]
	return out
}

// scratch is numbers that are needed for the look at hand alone.
func (p *player) scratch() []float64 {
	n := len(p.c) + 1
	if p.used+n > len(p.pad) {
		p.pad, p.used = make([]float64, 2*len(p.pad)+16*n), 0
	}
	out := p.pad[p.used : p.used+n : p.used+n]
	p.used += n
	clear(out)
	return out
}

// aliveOf are the leaves that have weight.
func aliveOf(w []float64) []int {
	var out []int
	for i, x := range w[:len(w)-1] {
		if x != 0 {
			out = append(out, i)
		}
	}
	return out
}
