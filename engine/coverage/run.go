package coverage

import (
	"context"
	"time"

	"whystone/engine"
	"whystone/engine/archive"
	"whystone/kb/eval"
)

// Options say how an archive is read and judged.
type Options struct {
	Workers int       // 0: as many as there are processors
	AsOf    time.Time // of cases that say no date
	Clock   bool      // AsOf is the clock's, and nobody asked for it
	// Progress is told how many records are counted.
	Progress func(records int64)
}

// chunkSize is how many records a worker takes at once.
const chunkSize = 64

// Run counts what archives exercise of a ruleset. A record that can't be read as a case is counted and stops nothing.
// When ctx ends early, or an archive can't be read any further, what was counted comes back with the error.
func Run(ctx context.Context, e *engine.Engine, in archive.Input, o Options) (*Report, error) {
	total, records := NewCounter(e), int64(0)
	readErr := archive.Share(ctx, in, archive.Sharing{Workers: o.Workers, Chunk: chunkSize},
		func() archive.Worker[*counts] {
			return &worker{Counter: NewCounter(e), asOf: o.AsOf,
				decoder: &archive.Decoder{Reader: eval.CaseReader(e.Ruleset)}}
		},
		func(k *counts) error {
			total.merge(k)
			if records += k.cases + k.unreadable; o.Progress != nil {
				o.Progress(records)
			}
			return nil
		})
	r := total.Report(o.AsOf)
	r.AsOf, r.AsOfFrom, r.Partial = o.AsOf.Format(time.RFC3339), string(engine.ByAsking), readErr != nil
	if o.Clock {
		r.AsOfFrom = string(engine.ByClock)
	}
	return r, readErr
}

// worker counts records.
type worker struct {
	*Counter
	decoder *archive.Decoder
	asOf    time.Time
}

// Take gives what was counted of a chunk.
func (w *worker) Take() *counts { return w.take() }

// Record counts one record. One that can't be read as a case is told, and stops nothing.
func (w *worker) Record(r *archive.Raw, number int64) {
	c, found := w.decoder.Decode(r)
	if c == nil {
		w.skip(Unread{Number: number, Place: r.Place(), Says: reason(found)})
		return
	}
	if !c.HasTaken {
		w.undated++
	}
	w.Add(c, c.On(w.asOf))
}
