// Package replay judges an archive of cases again: what comes out against what was true and what was recorded, and what
// another ruleset would change.
//
// Records are read in order, cut into chunks, judged by as many workers as there are processors, and counted chunk by
// chunk in the order of the archive. A [Tally] holds nothing but sums, and lists that are capped, so that memory stays
// flat; whole, interrupted, resumed and merged runs give the same bytes.
package replay

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"whystone/engine"
	"whystone/engine/archive"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/eval"
)

// Config says what is replayed, and how.
type Config struct {
	archive.Input
	Engine  *engine.Engine
	Against *engine.Engine // nil: one ruleset only. Engine is the old one, Against the new
	Drafts  []string       // the rules that only Against has active, when it is the same ruleset otherwise
	Workers int            // 0: as many as there are processors
	AsOf    time.Time      // of cases that say no date
	Clock   bool           // AsOf is the clock's: a run that is resumed keeps the date it began with
	// Threshold is how far a share may move before it is counted.
	Threshold float64
	// Before is what an earlier, interrupted run counted; see [Part.Resume].
	Before *Part
	// Progress is told how many records are counted; Save is given what is counted, chunk by chunk.
	Progress func(records int64)
	Save     func(*Part) error
	Pinned   map[string]string // cases that must not change, with the reason
	Lists    *Lists            // where every list is written in full; nil: nowhere
}

// mostRemembered bounds how many readings are remembered by a worker, with what follows from them.
const mostRemembered = 8192

// chunkSize is how many records a worker takes at once, at most.
const chunkSize = 512

// result is what came of a chunk.
type result struct {
	tally *Tally
	lines []listed
}

// Run replays. When ctx ends early, or an archive can't be read any further, what was counted comes back with the error:
// a partial report that can be used.
func Run(ctx context.Context, c Config) (*Part, error) {
	p := c.Before
	if p == nil {
		p = c.begin()
	}
	p.Partial = true
	p.Tally.pin(c.Pinned)
	sharing := archive.Sharing{Workers: c.Workers, Chunk: chunkSize, Past: slices.Clone(p.Archives), Seen: func(i int, e archive.Extent) {
		p.Archives[i].Records, p.Archives[i].Digest = e.Records, e.Digest
	}}
	var failed error
	err := archive.Share(ctx, c.Input, sharing, func() archive.Worker[*result] { return newWorker(&c) }, func(res *result) error {
		failed = c.add(p, res)
		return failed
	})
	if failed == nil && ctx.Err() != nil {
		err = ctx.Err()
	}
	p.Partial = err != nil
	return p, err
}

// add counts what came of a chunk.
func (c *Config) add(to *Part, res *result) (err error) {
	to.Tally.merge(res.tally)
	if c.Progress != nil {
		c.Progress(to.Tally.Records)
	}
	if c.Lists != nil {
		err = c.Lists.write(res.lines)
	}
	if c.Save != nil && err == nil {
		err = c.Save(to)
	}
	return err
}

// worker judges records.
type worker struct {
	config  *Config
	engine  *engine.Engine
	judge   *engine.Judge
	against *engine.Judge
	decoder *archive.Decoder
	second  *archive.Decoder
	skim    [2]*archive.Skimmer // the same by the first and the second ruleset, fast
	rooms   [2]casefile.Room
	zone    *time.Location
	res     *result // of the chunk at hand
}

func newWorker(c *Config) *worker {
	w := &worker{config: c, engine: c.Engine, judge: c.Engine.NewJudge(), decoder: &archive.Decoder{Reader: eval.CaseReader(c.Engine.Ruleset)},
		zone: c.Engine.Ruleset.Policy.Zone}
	w.judge.Remember()
	w.skim[0] = archive.NewSkimmer(w.decoder.Reader, mostRemembered)
	if c.Against != nil {
		w.against = c.Against.NewJudge()
		w.second = &archive.Decoder{Reader: eval.CaseReader(c.Against.Ruleset)}
		w.against.Remember()
		w.skim[1] = archive.NewSkimmer(w.second.Reader, mostRemembered)
	}
	w.res = w.fresh()
	return w
}

func (w *worker) fresh() *result { return &result{tally: newTally(w.against != nil)} }

// Take gives what came of a chunk.
func (w *worker) Take() *result {
	out := w.res
	w.res = w.fresh()
	return out
}

// Record judges one record. One that can't be read as a case is listed, and stops nothing.
func (w *worker) Record(r *archive.Raw, number int64) {
	res, t := w.res, w.res.tally
	t.Records++
	x := Line{Entry: Entry{Number: number, Place: r.Place()}}
	c, found, unusual := w.skim[0].Decode(r, &w.rooms[0])
	if unusual {
		t.Unusual++
	}
	if c == nil {
		x.Case, x.Says = r.ID(), reason(found)
		w.list(res, NotReplayable, r, x)
		return
	}
	x.Case, x.Truth = c.ID, c.Truth
	on := c.Taken
	if !c.HasTaken {
		on = w.config.AsOf
		t.Undated++
	}
	var d engine.Decision
	w.judge.Decide(c, on, &d)
	truth := known(w.engine.Ruleset, c)
	o := judged(&d, truth)
	t.count(w, c, &o, truth, on)
	x.Was = verdictText(&o.d)
	for _, wrong := range o.wrong {
		x.Says = x.Was + "; true: " + c.Truth
		w.list(res, wrong, r, x)
	}
	if w.against != nil {
		w.pair(res, r, &o, on, x)
	}
}

// known is the material or group that a case is known to be, or nil. An id of old is understood.
func known(rs *kb.Ruleset, c *casefile.Case) *kb.Material {
	if c.Truth == "" {
		return nil
	}
	return rs.NodeOrWas(c.Truth)
}

// pair judges the record by the other ruleset too, in that one's own vocabulary.
func (w *worker) pair(res *result, r *archive.Raw, was *outcome, on time.Time, x Line) {
	t := res.tally
	why, pinned := w.config.Pinned[x.Case]
	other, found, _ := w.skim[1].Decode(r, &w.rooms[1])
	if other == nil {
		x.Says = reason(found)
		w.list(res, NotByNew, r, x)
		if pinned {
			x.Says = "the new ruleset can't read it: " + x.Says + "; pinned: " + why
			entry(t.Pinned, x.Case).saw(x.Says)
			w.list(res, PinnedChanged, r, x)
		}
		return
	}
	var d engine.Decision
	w.against.Decide(other, on, &d)
	truth := known(w.config.Against.Ruleset, other)
	is := judged(&d, truth)
	t.Pair.New.add(&is, truth)
	if truth != nil {
		calibrate(w.against, truth, &t.Pair.Scores, &t.Pair.Reliability)
	}
	x.Is = verdictText(&is.d)
	newly := is.is(FalselyAccepted) && !was.is(FalselyAccepted)
	lists, says := t.compare(was, &is, w.config.Threshold)
	if w.config.Lists != nil && slices.Contains(lists, Changed) {
		d, _ := w.difference(r, x.Entry)
		x.Parts = d.Parts
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

// reason is why a record can't be read, on one line; its place is told beside it.
func reason(found diag.List) string {
	var parts []string
	for _, d := range found {
		if d.Severity != diag.Error {
			continue
		}
		says := d.Summary
		if _, column, ok := strings.Cut(sourceName(d.Span), ", "); ok {
			says = column + ": " + says
		} else if !d.Span.IsZero() {
			says = fmt.Sprintf("column %d: %s", d.Span.Position().Column, says)
		}
		if d.Nearest != "" {
			says += fmt.Sprintf("; did you mean %q?", d.Nearest)
		}
		if parts = append(parts, says); len(parts) == 3 {
			break
		}
	}
	return strings.Join(parts, "; ")
}

func sourceName(sp diag.Span) string {
	if sp.Source == nil {
		return ""
	}
	return sp.Source.Name
}
