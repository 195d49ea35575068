package replay

import (
	"fmt"
	"slices"
	"time"

	"whystone/engine"
	"whystone/engine/archive"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/eval"
)

// worker judges records, a block of them at once: they are decoded, the rules are run for all, and each is weighed and
// counted.
type worker struct {
	config *Config
	old    *side
	new    *side // nil: one ruleset only
	// Of two rulesets that differ in rules alone the rules of the new one are tried on the cases as the old one reads
	// them, and it judges only what that does not show to be alike.
	twins *engine.Twins // nil: they differ in more
	trial *eval.Block
	alike condition.Plane // the lanes of old that are
	// What tells two rulesets apart in full reads and judges records one by one, by these.
	judge, against  *engine.Judge
	decoder, second *archive.Decoder
	zone            *time.Location
	months          map[int]string
	pending         []pending
	res             *result // of the chunk at hand
}

// rememberedBytes is about how much is remembered of readings: what they were read as by all workers together, what
// follows from them for every leaf by each. With it two workers stay below 150 MB, one ruleset or two.
const rememberedBytes = 18 << 20

// memories are those that the workers of a replay share, for the old and the new ruleset.
type memories [2]*casefile.Memory

func (c *Config) memories() (out memories) {
	each := func(e *engine.Engine) int { return 900 + 16*len(e.Ruleset.Leaves) }
	out[0] = casefile.NewMemory(rememberedBytes, each(c.Engine))
	if c.Against != nil {
		out[1] = out[0].Beside(each(c.Against))
	}
	return out
}

// pending is a record that waits for its block to be full.
type pending struct {
	raw    *archive.Raw
	number int64
	found  [2]diag.List // why it can't be read, by the old and the new ruleset
	lane   [2]int       // in their blocks; -1: it can't be read
	odd    bool         // something in it is unusual
}

// side is one of the rulesets, with all that judges by it.
type side struct {
	engine *engine.Engine
	truths map[string]*kb.Material // what a case can be known to be
	judge  *engine.Judge
	skim   *archive.Skimmer
	rooms  []casefile.Room // by lane
	block  *eval.Block
	d      engine.Decision // of the case at hand
}

func newSide(e *engine.Engine, memory *casefile.Memory) *side {
	s := &side{engine: e, judge: e.NewJudge(), skim: archive.NewSkimmer(eval.CaseReader(e.Ruleset), memory),
		rooms: make([]casefile.Room, condition.Lanes), block: eval.NewBlock(e.Ruleset), truths: truths(e.Ruleset)}
	s.judge.Remember()
	return s
}

// truths are the materials and groups by what [kb.Ruleset.NodeOrWas] finds them by.
func truths(rs *kb.Ruleset) map[string]*kb.Material {
	out := map[string]*kb.Material{}
	for _, m := range slices.Backward(rs.Nodes) {
		for _, was := range m.Was {
			out[was] = m
		}
	}
	for _, m := range rs.Nodes {
		out[m.ID] = m
	}
	return out
}

func newWorker(c *Config, of memories) *worker {
	w := &worker{config: c, old: newSide(c.Engine, of[0]), zone: c.Engine.Ruleset.Policy.Zone, months: map[int]string{}}
	w.judge, w.decoder = w.old.judge, &w.old.skim.Decoder
	if c.Against != nil {
		w.new = newSide(c.Against, of[1])
		w.against, w.second = w.new.judge, &w.new.skim.Decoder
		if w.twins = engine.NewTwins(c.Engine, c.Against); w.twins != nil {
			w.trial = eval.NewBlock(c.Against.Ruleset)
		}
	}
	w.res = newResult(len(c.Engine.Ruleset.Order))
	return w
}

// Take gives what came of a chunk.
func (w *worker) Take() *result {
	w.finish()
	out := w.res
	w.res = newResult(len(out.rules))
	return out
}

// Record takes in one record. One that can't be read as a case is listed, and stops nothing.
func (w *worker) Record(r *archive.Raw, number int64) {
	p := pending{raw: r, number: number, lane: [2]int{-1, -1}}
	c, on := w.old.take(r, &p, 0, w.config.AsOf)
	switch {
	case c == nil || w.new == nil:
	case w.twins != nil:
		w.trial.Add(c, on)
	default:
		w.new.take(r, &p, 1, on)
	}
	if w.pending = append(w.pending, p); len(w.pending) == condition.Lanes {
		w.finish()
	}
}

// take decodes a record into the next lane, and tells the date as of which it is judged: the case's own, or the one
// given.
func (s *side) take(r *archive.Raw, p *pending, i int, on time.Time) (*casefile.Case, time.Time) {
	c, found, unusual := s.skim.Decode(r, &s.rooms[s.block.Len()])
	if c == nil {
		p.found[i] = found
		return nil, on
	}
	if i == 0 && c.HasTaken {
		on = c.Taken
	}
	p.lane[i] = s.block.Add(c, on)
	p.odd = p.odd || unusual
	return c, on
}

// finish judges the block.
func (w *worker) finish() {
	if len(w.pending) == 0 {
		return
	}
	w.old.block.Run()
	w.old.cover(w.res.rules)
	if w.twins != nil {
		w.part()
	}
	if w.new != nil {
		w.new.block.Run()
	}
	w.res.cases = slices.Grow(w.res.cases, w.old.block.Len())
	for i := range w.pending {
		w.one(&w.pending[i])
	}
	clear(w.pending)
	w.pending = w.pending[:0]
	w.old.block.Clear()
	if w.new != nil {
		w.new.block.Clear()
	}
	if w.twins != nil {
		w.trial.Clear()
	}
}

// part finds the cases of the block that the new ruleset need not judge, and has it read the others.
func (w *worker) part() {
	w.trial.Run()
	w.alike = w.twins.Alike(w.old.block, w.trial)
	for i := range w.pending {
		if p := &w.pending[i]; p.lane[0] >= 0 && !w.alike.Has(p.lane[0]) {
			_, on := w.old.block.Case(p.lane[0])
			w.new.take(p.raw, p, 1, on)
		}
	}
}

// one judges one record of the block.
func (w *worker) one(p *pending) {
	r, lane, s := p.raw, p.lane[0], w.old
	x := Line{Entry: Entry{Number: p.number}}
	w.res.records++
	if lane < 0 {
		w.res.unusual++
		x.Case, x.Says = r.ID(), reason(p.found[0])
		w.list(NotReplayable, r, x)
		return
	}
	c, on := s.block.Case(lane)
	x.Case, x.Truth = c.ID, c.Truth
	s.judge.DecideLane(s.block, lane, &s.d)
	if s.block.Odd(lane) {
		s.coverOne(w.res.rules)
	}
	if !c.HasTaken {
		w.res.undated++
	}
	if p.odd || s.block.Odd(lane) {
		w.res.unusual++
	}
	k := w.account(c, on, lane)
	for _, wrong := range k.wrong() {
		x.Was = verdictText(&s.d)
		x.Says = verdictSays(&s.d) + "; true: " + s.truths[c.Truth].Name
		w.list(wrong, r, x)
	}
	if w.new != nil {
		w.pair(p, &k.outcome, x)
	}
}

// pair judges the record by the other ruleset too, in that one's own vocabulary.
func (w *worker) pair(p *pending, was *outcome, x Line) {
	r, s := p.raw, w.new
	why, pinned := w.config.Pinned[x.Case]
	saw := func(says string) {
		if pinned {
			entry(w.res.pinned, x.Case).saw(says)
		}
	}
	if w.twins != nil && w.alike.Has(p.lane[0]) {
		w.res.pairs = append(w.res.pairs, both{was: *was, is: *was})
		saw("")
		return
	}
	if p.lane[1] < 0 {
		x.Was, x.Says = verdictText(&w.old.d), reason(p.found[1])
		w.list(NotByNew, r, x)
		if pinned {
			x.Says = "the new ruleset can't read it: " + x.Says + "; pinned: " + why
			saw(x.Says)
			w.list(PinnedChanged, r, x)
		}
		return
	}
	c, _ := s.block.Case(p.lane[1])
	s.judge.DecideLane(s.block, p.lane[1], &s.d)
	k := both{was: *was, is: s.worth(s.truths[c.Truth])}
	k.lists = w.changes(&k.was, &k.is)
	w.res.pairs = append(w.res.pairs, k)
	newly := k.is.FalseAccepted > k.was.FalseAccepted
	if len(k.lists) == 0 && !newly { // as most are: nothing has to be said of it
		saw("")
		return
	}
	x.Was, x.Is = verdictText(&w.old.d), verdictText(&s.d)
	says := verdictSays(&w.old.d) + " -> " + verdictSays(&s.d)
	if slices.Contains(k.lists, Moved) {
		says = fmt.Sprintf("%s, share %.3f -> %.3f", verdictSays(&w.old.d), w.old.d.Share, s.d.Share)
	}
	changed := slices.Contains(k.lists, Changed)
	if w.config.Lists != nil && changed {
		x.Parts = w.parts(r, x.Entry)
	}
	x.Says = says
	for _, name := range k.lists {
		w.list(name, r, x)
	}
	if newly {
		x.Says = verdictSays(&s.d) + "; true: " + s.truths[c.Truth].Name
		w.list(NewlyAccepted, r, x)
	}
	if !changed || !pinned {
		saw("")
		return
	}
	x.Says = says + "; pinned: " + why
	saw(x.Says)
	w.list(PinnedChanged, r, x)
}
