package eval

import (
	"time"

	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/condition"
	"whystone/kb/logic"
	"whystone/kb/vocab"
)

// Block applies the rules to many cases at once. Cases are added, lane by lane; then all rules are run, each for all
// lanes; then what came of a lane is taken into a [Run], as if that had done the case by itself.
//
// What a reading decides of the leaves on its slot is found by the very evaluator that a Run has, and remembered where
// the reading bears a number. Where rules do arithmetic, the lanes that have all it needs are done one by one. What is
// too unusual to be laid out (a quantity that a rule establishes, arithmetic that fails, correlations) makes a lane
// odd: it is to be done by a Run alone.
type Block struct {
	rs       *kb.Ruleset
	compiled []kb.Compiled
	until    []condition.Ref // by place in Ruleset.Order; of rules that withhold until something
	nodes    int
	planes   *condition.Planes
	leaves   [][]condition.LeafAt // by slot, those that are put in while cases are added
	acting   []int                // places of the rules that a verdict looks at
	run      *Run                 // what finds truths of single lanes

	n      int
	cases  []*casefile.Case
	on     []time.Time
	slots  []slotPlanes
	facts  [][]condition.Plane // by slot, of facts that are choices: the lanes of each word
	rays   condition.Plane     // birefringence comes from the two rays of ri
	odd    condition.Plane
	rules  []condition.Truths // by place in Ruleset.Order
	lifted []condition.Plane  // likewise: what is withheld no more
	held   [][]int            // by lane: of the acting rules, those that hold, rising
	filled int                // the lane whose case fills the run's slots, or -1

	of     sameStone
	known  [][]effect // by the number of a reading; nil: not asked yet
	claims map[string][]effect
}

// sameStone is what was put in for the stone and the stake of the last lane. The next is often of the same; that what
// it points to has not changed is promised until the block is cleared.
type sameStone struct {
	laid  bool
	stone casefile.Stone
	stake *float64
	ready []int // slots
	says  []effect
}

// slotPlanes is what the lanes of a slot are.
type slotPlanes struct{ present, ready, unclear condition.Plane }

// effect is the truth of a leaf.
type effect struct {
	node int
	is   logic.Value
}

// mostClaims bounds how many claims are remembered.
const mostClaims = 4096

// NewBlock makes room for running the rules on many cases; the run is one that nobody else uses.
func NewBlock(rs *kb.Ruleset) *Block {
	size := len(rs.Order)
	b := &Block{rs: rs, run: New(rs), until: make([]condition.Ref, size),
		cases: make([]*casefile.Case, condition.Lanes), on: make([]time.Time, condition.Lanes),
		slots: make([]slotPlanes, rs.Scope.Len()), facts: make([][]condition.Plane, rs.Scope.Len()),
		rules: make([]condition.Truths, size), lifted: make([]condition.Plane, size),
		held: make([][]int, condition.Lanes), claims: map[string][]effect{}, filled: -1}
	b.compile()
	for i, r := range rs.Order {
		if r.Status == kb.Active && (r.Evidence() || r.SendsOn != "" || r.Withholds != nil) {
			b.acting = append(b.acting, i)
		}
	}
	for _, f := range rs.Facts {
		if f.Kind == vocab.Choice {
			b.facts[f.Slot] = make([]condition.Plane, len(f.Words))
		}
	}
	b.Clear()
	return b
}

// compile joins the conditions of all rules into a program, as the ruleset's own is, and behind them what lifts what is
// withheld: that looks at the slots as all rules left them.
func (b *Block) compile() {
	to := condition.NewBuilder(b.rs.Scope)
	for _, r := range b.rs.Order {
		c := kb.Compiled{If: to.Constant(true)}
		if r.If != nil {
			c.If = to.Add(r.If.Root)
		}
		if c.Whole = c.If; r.Unless != nil {
			c.Whole = to.All(c.If, to.Add(r.Unless.Root).Negated())
		}
		c.End = to.Len()
		b.compiled = append(b.compiled, c)
	}
	for i, r := range b.rs.Order {
		if until := r.WithheldUntil(); until != nil {
			b.until[i] = to.Add(until.Root)
		}
	}
	b.nodes = to.Len()
	changes := b.changing()
	program := to.Program(func(slot int) bool { return changes[slot] })
	b.planes = program.NewPlanes()
	b.leaves = make([][]condition.LeafAt, b.rs.Scope.Len())
	for _, l := range program.LeavesAt() {
		if l.Kind < condition.Seen && !b.rs.Scope.At(l.Slot).Fact {
			b.leaves[l.Slot] = append(b.leaves[l.Slot], l)
		}
	}
}

// changing are the slots that change while the rules run.
func (b *Block) changing() map[int]bool {
	out := map[int]bool{}
	for _, r := range b.rs.Order {
		for _, o := range r.SetsAside {
			out[o.Index] = true
			if d := b.rs.Vocabulary.Observable(vocab.Birefringence); d != nil && o.Name == vocab.RefractiveIndex {
				out[d.Index] = true
			}
		}
	}
	for _, f := range b.rs.Facts {
		out[f.Slot] = true
	}
	return out
}

// Clear empties all lanes.
func (b *Block) Clear() {
	if b.filled >= 0 {
		clearSlots(&b.run.State)
	}
	b.of.laid = false
	b.n, b.filled, b.rays, b.odd = 0, -1, condition.Plane{}, condition.Plane{}
	b.planes.Clear()
	clear(b.slots)
	for _, f := range b.facts {
		clear(f)
	}
	for i := range b.held {
		b.held[i] = b.held[i][:0]
	}
}

// Forget forgets what readings that bear a number decide: what bears one from now on is another.
func (b *Block) Forget() { b.known = nil }

// Len is how many lanes are in use, of at most condition.Lanes.
func (b *Block) Len() int { return b.n }

// Add gives a case the next lane, which it returns. The case must stay as it is until the block is cleared.
func (b *Block) Add(c *casefile.Case, on time.Time) int {
	lane := b.n
	b.n++
	b.cases[lane], b.on[lane] = c, on
	if len(c.Correlations) > 0 {
		b.odd.Set(lane)
		return lane
	}
	b.stone(c, lane)
	rays := false
	for from := 0; from < len(c.Readings); {
		to := from
		for ; to < len(c.Readings) && c.Readings[to].Observable == c.Readings[from].Observable; to++ {
			r := c.Readings[to]
			rays = rays || r.Form == casefile.Pair && r.Usable()
		}
		b.observable(c.Readings[from:to], lane)
		from = to
	}
	if rays {
		b.difference(c, lane)
	}
	return lane
}

// stone puts in what is known of a case before its readings.
func (b *Block) stone(c *casefile.Case, lane int) {
	state, first := &b.run.State, len(b.rs.Vocabulary.Observables)
	claim := first + stoneProperties
	if o := &b.of; !o.laid || o.stone != c.Stone || o.stake != c.Stake {
		o.laid, o.stone, o.stake, o.ready, o.says = true, c.Stone, c.Stake, o.ready[:0], o.says[:0]
		putStone(state, state.Slots[first:], &c.Stone)
		putNumber(state, &state.Slots[claim+1], c.Stake)
		for slot := first; slot < claim+2; slot++ {
			if s := &state.Slots[slot]; s.Status == condition.Ready {
				o.ready, o.says = append(o.ready, slot), b.effects(o.says, slot)
				*s = condition.Slot{Values: s.Values[:0]}
			}
		}
	}
	for _, slot := range b.of.ready {
		b.status(slot, lane, condition.Ready)
	}
	b.put(b.of.says, lane)
	if c.Claim == "" {
		return
	}
	b.status(claim, lane, condition.Ready)
	was, ok := b.claims[c.Claim]
	if !ok {
		s := &state.Slots[claim]
		s.Status, s.Text = condition.Ready, c.Claim
		was = b.effects(nil, claim)
		*s = condition.Slot{Values: s.Values[:0]}
		if len(b.claims) < mostClaims {
			b.claims[c.Claim] = was
		}
	}
	b.put(was, lane)
}

// observable puts in the readings of one observable.
func (b *Block) observable(all []*casefile.Reading, lane int) {
	slot, r := all[0].Observable.Index, all[0]
	if len(all) == 1 && r.Known > 0 && r.Form != casefile.Features {
		for len(b.known) <= r.Known {
			b.known = append(b.known, nil)
		}
		if b.known[r.Known] == nil {
			b.known[r.Known] = b.alone(all)
		}
		b.put(b.known[r.Known], lane)
		is := condition.Ready
		if !r.Usable() {
			is = condition.Vague // or another in which it says nothing
		}
		b.status(slot, lane, is)
		return
	}
	b.fill(all)
	b.slot(slot, lane)
	b.empty(slot)
}

// alone is what readings decide of the leaves on their slot; empty, not nil, when it is nothing.
func (b *Block) alone(all []*casefile.Reading) []effect {
	b.fill(all)
	out := b.effects([]effect{}, all[0].Observable.Index)
	b.empty(all[0].Observable.Index)
	return out
}

// fill puts readings of one observable into their slot.
func (b *Block) fill(all []*casefile.Reading) {
	s := &b.run.State.Slots[all[0].Observable.Index]
	b.run.State.Context.U = b.run.State.Context.U[:0]
	b.run.State.Context.R = nil
	for _, r := range all {
		b.run.reading(r, nil)
	}
	if s.Status == condition.Ready && len(s.Values) > 0 {
		s.SetQuantities(&b.run.State.Context, s.Values...)
	}
}

func (b *Block) empty(slot int) {
	s := &b.run.State.Slots[slot]
	*s = condition.Slot{Values: s.Values[:0]}
}

// effects adds the truths of the leaves on a slot that is filled.
func (b *Block) effects(to []effect, slot int) []effect {
	for _, l := range b.leaves[slot] {
		if is, _ := b.run.State.Leaf(l.Leaf); is != logic.Undecided { // no leaf on one slot fails
			to = append(to, effect{l.Node, is})
		}
	}
	return to
}

// slot puts in a slot that is filled.
func (b *Block) slot(slot, lane int) {
	for _, l := range b.leaves[slot] {
		is, _ := b.run.State.Leaf(l.Leaf)
		b.planes.Put(l.Node, lane, is)
	}
	b.status(slot, lane, b.run.State.Slots[slot].Status)
}

func (b *Block) put(all []effect, lane int) {
	for _, e := range all {
		b.planes.Put(e.node, lane, e.is)
	}
}

func (b *Block) status(slot, lane int, is condition.Status) {
	s := &b.slots[slot]
	if is != condition.Missing {
		s.present.Set(lane)
	}
	switch {
	case is == condition.Ready:
		s.ready.Set(lane)
	case is > condition.Ready:
		s.unclear.Set(lane)
	}
}

// difference puts in the birefringence that two rays give.
func (b *Block) difference(c *casefile.Case, lane int) {
	d := b.rs.Vocabulary.Observable(vocab.Birefringence)
	if d == nil || b.slots[d.Index].present.Has(lane) {
		return
	}
	b.run.fill(c)
	if b.run.fromRays {
		b.slot(d.Index, lane)
		b.rays.Set(lane)
	}
	clearSlots(&b.run.State)
}

// Run runs the rules for all lanes.
func (b *Block) Run() {
	for _, f := range b.rs.Facts {
		if f.Kind == vocab.Truth {
			s := &b.slots[f.Slot]
			for w := range s.ready {
				s.ready[w], s.present[w] = ^uint64(0), ^uint64(0)
			}
		}
	}
	truths := map[int]*condition.Truths{} // of facts, by slot
	from := 0
	for i := range b.compiled {
		c, step := &b.compiled[i], &b.run.steps[i]
		if from < c.End {
			b.planes.Run(from, c.End, func(l *condition.Leaf, t *condition.Truths) { b.leaf(l, t, truths) })
			from = c.End
		}
		b.rules[i] = b.planes.Of(c.Whole)
		if step.dated {
			b.dated(b.rs.Order[i], &b.rules[i])
		}
		if step.active && step.follows {
			b.follow(b.rs.Order[i], &b.rules[i], truths)
		}
	}
	b.planes.Run(from, b.nodes, func(l *condition.Leaf, t *condition.Truths) { b.leaf(l, t, truths) })
	for i, r := range b.rs.Order {
		if r.WithheldUntil() != nil {
			b.lifted[i] = b.planes.Of(b.until[i]).Holds
		}
	}
	for _, i := range b.acting {
		b.rules[i].Holds.Each(func(lane int) {
			if lane < b.n {
				b.held[lane] = append(b.held[lane], i)
			}
		})
	}
}

// dated lets a rule fail in the lanes in which it is not in force.
func (b *Block) dated(r *kb.Rule, t *condition.Truths) {
	var out condition.Plane
	for lane := range b.n {
		if !r.InForce(b.on[lane]) {
			out.Set(lane)
		}
	}
	t.Holds.Less(&out)
	t.Fails.Or(&out)
}
