// Package replay judges an archive of cases again: what comes out against what was true and what was recorded, and what
// another ruleset would change.
//
// Records are read in order, cut into chunks, judged by as many workers as there are processors, and counted chunk by
// chunk in the order of the archive. A [Tally] holds nothing but sums, and lists that are capped, so that memory stays
// flat; whole, interrupted, resumed and merged runs give the same bytes.
package replay

import (
	"context"
	"errors"
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
	Workers int            // 0: as many as there are processors
	AsOf    time.Time      // of cases that say no date
	// Threshold is how far a share may move before it is counted.
	Threshold float64
	// Skip passes over the first records: those that an earlier, interrupted run counted.
	Skip int64
	// Progress is told how many records are counted; Save, from time to time, the tally so far.
	Progress func(records int64)
	Save     func(*Tally) error
	Pinned   map[string]string // cases that must not change, with the reason
}

// chunkSize is how many records a worker takes at once.
const chunkSize = 512

type chunk struct {
	first   int64 // number of its first record
	records []*archive.Raw
	done    chan *Tally
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
	total := newTally(c.Against != nil)
	var saveErr error
	for ch := range order {
		total.merge(<-ch.done)
		if c.Progress != nil {
			c.Progress(total.Records)
		}
		if c.Save != nil && saveErr == nil {
			if saveErr = c.Save(total); saveErr != nil {
				stop()
			}
		}
	}
	workers.Wait()
	return total, errors.Join(saveErr, contextOr(ctx, readErr))
}

func contextOr(ctx context.Context, err error) error {
	if ctx.Err() != nil {
		return ctx.Err()
	}
	return err
}

// cut reads the archives and hands out chunks, to the workers and, in the same order, to whoever counts.
func cut(ctx context.Context, c *Config, todo, order chan<- *chunk) error {
	number := int64(0)
	ch := &chunk{first: 1}
	send := func() {
		if len(ch.records) > 0 {
			ch.done = make(chan *Tally, 1)
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

func (w *worker) chunk(ch *chunk) *Tally {
	t := newTally(w.against != nil)
	for i, r := range ch.records {
		w.record(t, r, ch.first+int64(i))
	}
	ch.records = nil
	return t
}

// record judges one record. One that can't be read as a case is listed, and stops nothing.
func (w *worker) record(t *Tally, r *archive.Raw, number int64) {
	t.Records++
	at := Entry{Number: number, Place: r.Place()}
	c, found := w.decoder.Decode(r)
	if c == nil {
		at.Says = reason(found)
		entry(t.Lists, "not replayable").add(at)
		return
	}
	at.Case = c.ID
	on := w.config.AsOf
	if c.HasTaken {
		on = c.Taken
	}
	var d engine.Decision
	w.judge.Decide(c, on, &d)
	known := w.known(w.engine.Ruleset, c)
	o := judged(w.engine.Ruleset, &d, known)
	t.count(w, c, &o, known, on)
	for _, wrong := range o.wrong {
		at.Says = verdictText(&o.d) + "; true: " + c.Truth
		entry(t.Lists, wrong).add(at)
	}
	if w.against != nil {
		w.pair(t, r, c, &o, on, at)
	}
}

// known is the material or group that a case is known to be, or nil. An id of old is understood.
func (w *worker) known(rs *kb.Ruleset, c *casefile.Case) *kb.Material {
	if c.Truth == "" {
		return nil
	}
	return rs.NodeOrWas(c.Truth)
}

// pair judges the record by the other ruleset too, in that one's own vocabulary.
func (w *worker) pair(t *Tally, r *archive.Raw, c *casefile.Case, was *outcome, on time.Time, at Entry) {
	other, found := w.second.Decode(r)
	if other == nil {
		at.Says = "by the other ruleset: " + reason(found)
		entry(t.Lists, "not replayable").add(at)
		return
	}
	var d engine.Decision
	w.against.Decide(other, on, &d)
	is := judged(w.config.Against.Ruleset, &d, w.known(w.config.Against.Ruleset, other))
	changed, says := t.compare(was, &is, w.config.Threshold)
	if changed {
		at.Says = says
		entry(t.Lists, "changed").add(at)
		if why, pinned := w.config.Pinned[c.ID]; pinned {
			at.Says = says + "; pinned: " + why
			entry(t.Lists, "pinned changed").add(at)
		}
	}
	if slices.Contains(is.wrong, "falsely accepted") && !slices.Contains(was.wrong, "falsely accepted") {
		at.Says = verdictText(&is.d) + "; true: " + c.Truth
		entry(t.Lists, "newly falsely accepted").add(at)
	}
}

// reason is why a record can't be read, on one line.
func reason(found diag.List) string {
	var parts []string
	for _, d := range found {
		if d.Severity == diag.Error {
			parts = append(parts, d.Error())
		}
		if len(parts) == 3 {
			break
		}
	}
	return strings.Join(parts, "; ")
}
