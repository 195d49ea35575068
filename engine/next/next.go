// Package next says what to test next.
//
// Every test that the house can do on the stone, and that does not harm it, is played through the engine, outcome by
// outcome, house rules included: what a reading would come to is not guessed by a formula beside the engine. How likely
// an outcome is comes from the weights of the case: the sum over all materials of weight above zero, and over what is
// unlisted, of weight times likelihood, blunders counted. Values are integrated over all that the test can read (see
// mesh), a reading beyond its limits is an outcome of its own, and so is a test that stays inconclusive.
//
// Two figures are kept apart (Howard 1966; Gorry and Barnett 1968): by how much the entropy over the materials is
// expected to fall, and by how much the loss that the house has to expect, which falls only where an outcome changes
// what the house does. Where no single test can bring the verdict further, tests are played two deep. Where nothing
// can, the advice is to stop, or to send the stone to a laboratory, with the reason.
//
// A test that gives several observables, or a set of features, is asked one thing at a time, and the figures are those
// of the best: together they tell no less.
package next

import (
	"runtime"
	"slices"
	"sync"
	"time"

	"whystone/engine"
	"whystone/engine/answers/wording"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/eval"
	"whystone/kb/logic"
)

// DefaultUnclear is how likely a test stays inconclusive of which nothing else is known.
const DefaultUnclear = 0.05

// Options are what an adviser is told besides the case.
type Options struct {
	// Lacks names tests that the house has no instrument for.
	Lacks []string
	// Unclear is how likely a test stays inconclusive, by its id; DefaultUnclear for all others.
	Unclear map[string]float64
	// Workers is how many tests are played at a time; 0: as many as there are processors. It changes no figure.
	Workers int

	mesh  mesh // zero: fine
	brief bool // what the outcomes lead to is left out
}

func (o *Options) unclear(test string) float64 {
	if x, ok := o.Unclear[test]; ok {
		return x
	}
	return DefaultUnclear
}

// Adviser says what to test next, by one ruleset, and uses its memory again. One goroutine uses it at a time.
type Adviser struct {
	e       *engine.Engine
	run     *eval.Run
	players []*player
}

// New makes an adviser.
func New(e *engine.Engine) *Adviser { return &Adviser{e: e, run: eval.New(e.Ruleset)} }

// bench is one case on the adviser's bench.
type bench struct {
	*Adviser
	c       *casefile.Case
	opts    Options
	base    state
	w       []float64
	cost    costs
	able    []*kb.Test // feasible, harmless, and with something left to ask
	needs   map[*kb.Test]eval.Needs
	calls   map[string][]*kb.Rule // by test: the rules that call for it
	forbids map[string][]*kb.Rule
	sentOn  []*kb.Rule
}

// Next says what to test next on a case.
func (a *Adviser) Next(c *casefile.Case, m engine.Moment, o Options) *Advice {
	b := a.lay(c, m, o)
	found := b.each(b.able, func(p *player, t *kb.Test) suggestion { return b.suggest(p, t) })
	found = slices.DeleteFunc(found, func(s suggestion) bool { return s.test == nil })
	if b.openEnded() && !slices.ContainsFunc(found, func(s suggestion) bool { return s.best().better > decides }) {
		b.deep(found)
	}
	b.sort(found)
	return b.advice(m, found)
}

// doubted tells whether a reading has to be taken again before anything else: the readings contradict each other, or
// fit nothing on the list.
func (b *bench) doubted() bool {
	return b.base.decision.Class == engine.Contradictory || b.base.decision.NotListed == engine.NotListedLikely
}

// openEnded tells whether the house has to find out more: it is not settled, no rule sends the stone on, and no reading
// is to be taken again first.
func (b *bench) openEnded() bool {
	return !b.base.settled() && len(b.sentOn) == 0 && !b.doubted()
}

// decides is how likely it must be that a test brings the verdict further before it is said that it can.
const decides = toldFrom

// lay prepares a case: what the engine makes of it now, and which tests can be done.
func (a *Adviser) lay(c *casefile.Case, m engine.Moment, o Options) *bench {
	b := &bench{Adviser: a, c: numbered(c), opts: o, needs: map[*kb.Test]eval.Needs{}, calls: map[string][]*kb.Rule{},
		forbids: map[string][]*kb.Rule{}, cost: costsOf(a.e.Ruleset.Policy, c)}
	if b.opts.mesh == (mesh{}) {
		b.opts.mesh = fine
	}
	workers := o.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	for len(a.players) < workers {
		a.players = append(a.players, newPlayer(a.e))
	}
	b.opts.Workers = workers
	for _, p := range a.players[:workers] {
		p.begin(b.c, b.cost, m.On)
	}
	p := a.players[0]
	b.base = p.play(b.c)
	b.base.result = wording.Of(&b.base.decision)
	b.w = p.weights()
	b.feasible(m.On)
	return b
}

// feasible sorts out the tests that can be done.
func (b *bench) feasible(on time.Time) {
	rs := b.e.Ruleset
	b.run.Do(b.c, on)
	for i, r := range rs.Order {
		if b.run.Rules[i] != logic.Holds || r.Status != kb.Active {
			continue
		}
		for _, id := range r.CallsFor {
			b.calls[id] = append(b.calls[id], r)
		}
		for _, id := range r.Forbids {
			b.forbids[id] = append(b.forbids[id], r)
		}
		if r.SendsOn != "" {
			b.sentOn = append(b.sentOn, r)
		}
	}
	for _, t := range rs.Tests {
		n := b.run.Needs(t)
		b.needs[t] = n
		if n.Feasible() && t.Harmless() && len(b.forbids[t.ID]) == 0 && !slices.Contains(b.opts.Lacks, t.ID) {
			b.able = append(b.able, t)
		}
	}
}

// each works on every test, several at a time, and keeps their order: the result does not depend on who was first.
func (b *bench) each(tests []*kb.Test, work func(p *player, t *kb.Test) suggestion) []suggestion {
	out := make([]suggestion, len(tests))
	jobs := make(chan int, len(tests))
	for i := range tests {
		jobs <- i
	}
	close(jobs)
	var wg sync.WaitGroup
	for _, p := range b.players[:b.opts.Workers] {
		wg.Go(func() {
			for i := range jobs {
				out[i] = work(p, tests[i])
			}
		})
	}
	wg.Wait()
	return out
}
