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
	belongs         []*Answers // the counters of the case at hand
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
	judge  *engine.Judge
	skim   *archive.Skimmer
	rooms  []casefile.Room // by lane
	block  *eval.Block
	d      engine.Decision // of the case at hand
}

func newSide(e *engine.Engine, memory *casefile.Memory) *side {
	s := &side{engine: e, judge: e.NewJudge(), skim: archive.NewSkimmer(eval.CaseReader(e.Ruleset), memory),
		rooms: make([]casefile.Room, condition.Lanes), block: eval.NewBlock(e.Ruleset)}
	s.judge.Remember()
	return s
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
	w.res = w.fresh()
	return w
}

func (w *worker) fresh() *result {
	select {
	case t := <-w.config.free:
		return &result{tally: t}
	default:
		return &result{tally: newTally(w.new != nil)}
	}
}

// Take gives what came of a chunk.
func (w *worker) Take() *result {
	w.finish()
	out := w.res
	w.res = w.fresh()
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
	w.res.tally.cover(w.old)
	if w.twins != nil {
		w.part()
	}
	if w.new != nil {
		w.new.block.Run()
	}
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
	res, t, r := w.res, w.res.tally, p.raw
	t.Records++
	x := Line{Entry: Entry{Number: p.number}}
	lane := p.lane[0]
	if lane < 0 {
		t.Unusual++
		x.Case, x.Says = r.ID(), reason(p.found[0])
		w.list(res, NotReplayable, r, x)
		return
	}
	c, on := w.old.block.Case(lane)
	x.Case, x.Truth = c.ID, c.Truth
	if !c.HasTaken {
		t.Undated++
	}
	if p.odd || w.old.block.Odd(lane) {
		t.Unusual++
	}
	w.old.judge.DecideLane(w.old.block, lane, &w.old.d)
	truth := knownAs(w.old.engine.Ruleset, c)
	o := judged(&w.old.d, truth)
	t.count(w, c, &o, truth, on, lane)
	if len(o.wrong) > 0 {
		x.Was = verdictText(&o.d)
	}
	for _, wrong := range o.wrong {
		x.Says = x.Was + "; true: " + c.Truth
		w.list(res, wrong, r, x)
	}
	if w.new != nil {
		w.pair(res, p, &o, truth, x)
	}
}

// pair judges the record by the other ruleset too, in that one's own vocabulary.
func (w *worker) pair(res *result, p *pending, was *outcome, known *kb.Material, x Line) {
	t, r := res.tally, p.raw
	why, pinned := w.config.Pinned[x.Case]
	if w.twins != nil && w.alike.Has(p.lane[0]) {
		w.same(t, was, known, x.Case, pinned)
		return
	}
	if p.lane[1] < 0 {
		x.Was, x.Says = verdictText(&was.d), reason(p.found[1])
		w.list(res, NotByNew, r, x)
		if pinned {
			x.Says = "the new ruleset can't read it: " + x.Says + "; pinned: " + why
			entry(t.Pinned, x.Case).saw(x.Says)
			w.list(res, PinnedChanged, r, x)
		}
		return
	}
	other, _ := w.new.block.Case(p.lane[1])
	w.new.judge.DecideLane(w.new.block, p.lane[1], &w.new.d)
	truth := knownAs(w.new.engine.Ruleset, other)
	is := judged(&w.new.d, truth)
	t.Pair.New.add(&is, truth)
	if truth != nil {
		calibrate(w.against, truth, &t.Pair.Scores, &t.Pair.Reliability)
	}
	newly := is.is(FalselyAccepted) && !was.is(FalselyAccepted)
	lists := t.compare(was, &is, w.config.Threshold)
	if len(lists) == 0 && !newly { // as most are: nothing has to be said of it
		if pinned {
			entry(t.Pinned, x.Case).saw("")
		}
		return
	}
	x.Was, x.Is = verdictText(&was.d), verdictText(&is.d)
	says := x.Was + " -> " + x.Is
	if slices.Contains(lists, Moved) {
		says = fmt.Sprintf("%s, share %.3f -> %.3f", x.Was, was.d.Share, is.d.Share)
	}
	if w.config.Lists != nil && slices.Contains(lists, Changed) {
		x.Parts = w.parts(r, x.Entry)
	}
	x.Says = says
	for _, name := range lists {
		w.list(res, name, r, x)
	}
	if newly {
		x.Says = x.Is + "; true: " + x.Truth
		w.list(res, NewlyAccepted, r, x)
	}
	if !pinned {
		return
	}
	if !slices.Contains(lists, Changed) {
		entry(t.Pinned, x.Case).saw("")
		return
	}
	x.Says = says + "; pinned: " + why
	entry(t.Pinned, x.Case).saw(x.Says)
	w.list(res, PinnedChanged, r, x)
}

// same counts a record that both rulesets judge alike.
func (w *worker) same(t *Tally, is *outcome, known *kb.Material, id string, pinned bool) {
	t.Pair.New.add(is, known)
	if known != nil {
		calibrate(w.judge, known, &t.Pair.Scores, &t.Pair.Reliability)
	}
	t.compare(is, is, w.config.Threshold)
	if pinned {
		entry(t.Pinned, id).saw("")
	}
}
