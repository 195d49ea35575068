package engine

import (
	"slices"
	"time"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/eval"
	"whystone/kb/logic"
)

// Judge judges one case after another by one ruleset, and uses its memory again. One goroutine uses it at a time.
type Judge struct {
	e        *Engine
	run      *eval.Run
	items    []item
	were     []item    // those of the case, while others stand in their place
	spare    []*vector // with their memory; the first used of them are the case's
	used     int
	speaking []bool // by place of a reading in the case: it says something of some leaf
	// of readings that are kept, by what they rest on and a number of their own; nil: none is kept
	vectors   []kept
	ofRules   [][]*vector            // of rules, by place in Ruleset.Order
	joined    map[[2]*vector]*vector // what two of these come to that rest on the same readings
	combined  []*casefile.Reading    // joined with one of the same property
	disagree  []*casefile.Reading    // of one property, in pairs that disagree
	readings  int                    // how many say anything
	opposed   []*casefile.Reading    // those that speak against what is claimed
	speakers  []*vector              // what some of the evidence says, while it is asked whether it speaks against that
	w         weights
	coloured  weights
	nodeShare []float64 // by Engine.nodes
	equal     []float64
	shared    bool // nodeShare is that of the case at hand
	joins     candidates
	picked    []int // of them
	standing  []int // by leaf without exclusion: the node that stands for it, or -1
	joinOf    []int // by leaf without exclusion: its place in joins
	joinAt    []int // by node that stands for leaves: its place in joins, or -1
	held      []holding
	taken     []*kb.Material
	lists     map[[MaxNodes]*kb.Material][]*kb.Material
	keeping   []*kb.Rule // that keep names back
	withheld  leafSet    // the leaves of those names
	bands     []*band
	bandsUsed int
	trace     *trace
	places    map[diag.Span]string // of sheets' lines that chains have named
	sub       *Judge               // judges the case without some readings
}

// NewJudge makes room for judging.
func (e *Engine) NewJudge() *Judge {
	return &Judge{e: e, run: eval.New(e.Ruleset), w: e.newWeights(), coloured: e.newWeights(),
		nodeShare: make([]float64, len(e.nodes)), equal: make([]float64, e.leaves),
		withheld: e.newSet(), standing: make([]int, e.leaves), joinOf: make([]int, e.leaves),
		joinAt: make([]int, len(e.nodes)), taken: make([]*kb.Material, 0, 2*MaxNodes),
		lists: map[[MaxNodes]*kb.Material][]*kb.Material{}, joined: map[[2]*vector]*vector{},
		places: map[diag.Span]string{}}
}

func (e *Engine) newWeights() weights {
	return weights{excluded: e.newSet(), zero: e.newSet(), likelihood: e.numbers(), log: e.numbers(),
		above: e.numbers(), share: e.numbers(), sum: e.numbers(), lowest: e.numbers(), out: e.newSet(),
		familyAt: make([]int, len(e.families))}
}

// Decide judges a case as of a date, and says no more than the verdict.
func (j *Judge) Decide(c *casefile.Case, on time.Time, d *Decision) {
	j.run.Do(c, on)
	j.conclude(c, d)
}

// DecideLane is Decide for the case of a lane of a block whose rules were run; the block must be of the judge's own
// ruleset.
func (j *Judge) DecideLane(b *eval.Block, lane int, d *Decision) {
	c, on := b.Case(lane)
	if b.Odd(lane) {
		j.Decide(c, on, d)
		return
	}
	j.run.Take(b, lane)
	j.conclude(c, d)
}

// conclude weighs and decides a case to which the rules were applied.
func (j *Judge) conclude(c *casefile.Case, d *Decision) {
	j.gather(c)
	j.decideGathered(c, d)
}

func (j *Judge) decideGathered(c *casefile.Case, d *Decision) {
	*d = Decision{}
	j.shared = false
	stake := 0.0
	if c.Stake != nil {
		stake = *c.Stake
	}
	req := j.e.Ruleset.Policy.RequiredFor(stake)
	d.Required, d.DoubtLimit = req.Share, req.DoubtLimit
	j.weigh(&j.w)
	j.decide(d)
	j.answer(c, d)
}

// byEye tells of a reading that is a mere impression.
func (j *Judge) byEye(r *casefile.Reading) bool {
	return !slices.ContainsFunc(r.Tests, func(t string) bool { return !j.e.byEye.Has(j.e.tests[t]) })
}

// Mute keeps one rule silent from the next case on, as if it were not in force; nil lets all speak again.
func (j *Judge) Mute(r *kb.Rule) {
	if j.sub == nil {
		j.sub = j.e.NewJudge() // what is to be repeated must not come from a rule that is silent
	}
	j.run.Mute(r)
	j.sub.run.Mute(r)
}

// Run is the rules as applied to the case that was decided last. It is there to be looked at.
func (j *Judge) Run() *eval.Run { return j.run }

// EachRule calls f with every rule that was evaluated and its truth, after a case was decided.
func (j *Judge) EachRule(f func(r *kb.Rule, v logic.Value)) {
	for i, r := range j.e.Ruleset.Order {
		f(r, j.run.Rules[i])
	}
}

// Likeliest is the topmost nameable node with the largest share of the case that was decided last, or nil when nothing
// stays open.
func (j *Judge) Likeliest() (*kb.Material, float64) {
	j.shares()
	var best *kb.Material
	share := 0.0
	for _, n := range j.e.tops {
		if j.nodeShare[n] > share {
			best, share = j.e.nodes[n], j.nodeShare[n]
		}
	}
	return best, share
}
