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
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"whystone/engine"
	"whystone/engine/archive"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
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
	// Skip passes over the first records: those that an earlier, interrupted run counted.
	Skip int64
	// Progress is told how many records are counted; Save, from time to time, the tally so far.
	Progress func(records int64)
	Save     func(*Tally) error
	Pinned   map[string]string // cases that must not change, with the reason
	Lists    *Lists            // where every list is written in full; nil: nowhere
}

// chunkSize is how many records a worker takes at once.
const chunkSize = 512

type chunk struct {
	first   int64 // number of its first record
	records []*archive.Raw
	done    chan *result
}

// result is what came of a chunk.
type result struct {
	tally *Tally
	lines []listed
	fault string // the program's own mistake: where, and which
}

// Run replays. When ctx ends early the tally of what was counted comes back with its error: a partial result that can
// be used.
func Run(ctx context.Context, c Config) (*Tally, error) {
	if c.Workers <= 0 {
		c.Workers = runtime.GOMAXPROCS(0)
	}
	read, stop := context.WithCancel(ctx)
	defer stop()
	todo, order := make(chan *chunk, c.Workers), make(chan *chunk, 4*c.Workers)
	var workers sync.WaitGroup
	for range c.Workers {
		workers.Go(func() {
			w := newWorker(&c)
			for ch := range todo {
				ch.done <- w.chunk(ch)
			}
		})
	}
	var readErr error
	go func() {
		defer close(order)
		defer close(todo)
		readErr = cut(read, &c, todo, order)
	}()
	total, fault, err := gather(&c, order, stop)
	workers.Wait()
	switch {
	case fault != "":
		panic(fault) // here, where the caller can answer for it
	case err != nil:
		return total, err
	case ctx.Err() != nil:
		return total, ctx.Err()
	}
	return total, readErr
}

// gather adds up the chunks in their order. What goes wrong stops the reading; what is under way is still taken, so that
// nobody waits for ever, but counted no more.
func gather(c *Config, order <-chan *chunk, stop func()) (total *Tally, fault string, err error) {
	total = newTally(c.Against != nil)
	total.pin(c.Pinned)
	for ch := range order {
		res := <-ch.done
		if fault == "" {
			fault = res.fault
		}
		if fault != "" || err != nil {
			stop()
			continue
		}
		total.merge(res.tally)
		if c.Progress != nil {
			c.Progress(total.Records)
		}
		if c.Lists != nil {
			err = c.Lists.write(res.lines)
		}
		if c.Save != nil && err == nil {
			err = c.Save(total)
		}
	}
	return total, fault, err
}

// cut reads the archives and hands out chunks, to the workers and, in the same order, to whoever counts.
func cut(ctx context.Context, c *Config, todo, order chan<- *chunk) error {
	number := int64(0)
	ch := &chunk{first: 1}
	send := func() {
		if len(ch.records) > 0 {
			ch.done = make(chan *result, 1)
			order <- ch
			todo <- ch
		}
		ch = &chunk{first: number + 1}
	}
	ch.first = c.Skip + 1
	err := archive.Each(ctx, c.Input, func(r *archive.Raw) bool {
		number++
		if number <= c.Skip {
			return true
		}
		ch.records = append(ch.records, r)
		if len(ch.records) == chunkSize {
			send()
		}
		return true
	})
	send()
	return err
}

// worker judges chunks.
type worker struct {
	config  *Config
	engine  *engine.Engine
	judge   *engine.Judge
	against *engine.Judge
	decoder *archive.Decoder
	second  *archive.Decoder
	zone    *time.Location
}

func newWorker(c *Config) *worker {
	w := &worker{config: c, engine: c.Engine, judge: c.Engine.NewJudge(), decoder: &archive.Decoder{Reader: c.Engine.Ruleset.CaseReader()},
		zone: c.Engine.Ruleset.Policy.Zone}
	if c.Against != nil {
		w.against = c.Against.NewJudge()
		w.second = &archive.Decoder{Reader: c.Against.Ruleset.CaseReader()}
	}
	return w
}

func (w *worker) chunk(ch *chunk) (res *result) {
	res = &result{tally: newTally(w.against != nil)}
	var at *archive.Raw
	defer func() {
		if p := recover(); p != nil {
			res.fault = fmt.Sprintf("%s: %v", at.Place(), p)
		}
	}()
	for i, r := range ch.records {
		at = r
		w.record(res, r, ch.first+int64(i))
	}
	ch.records = nil
	return res
}

// record judges one record. One that can't be read as a case is listed, and stops nothing.
func (w *worker) record(res *result, r *archive.Raw, number int64) {
	t := res.tally
	t.Records++
	x := Line{Entry: Entry{Number: number, Place: r.Place()}}
	c, found := w.decoder.Decode(r)
	if c == nil {
		x.Says = reason(found)
		w.list(res, NotReplayable, r, x)
		return
	}
	x.Case, x.Truth = c.ID, c.Truth
	on := w.config.AsOf
	if c.HasTaken {
		on = c.Taken
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
	other, found := w.second.Decode(r)
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

// parts finds where the two chains part.
func (w *worker) parts(r *archive.Raw, e Entry) *Parts {
	d, ok := w.difference(r, e)
	if !ok || d.Parts == 0 {
		return nil
	}
	return &Parts{Step: d.Parts, Old: d.PartsBefore, New: d.PartsAfter}
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
