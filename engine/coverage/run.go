package coverage

import (
	"context"
	"fmt"
	"runtime"
	"sync"
	"time"

	"whystone/engine"
	"whystone/engine/archive"
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

type chunk struct {
	first   int64 // number of its first record
	records []*archive.Raw
	done    chan result
}

// result is what came of a chunk.
type result struct {
	*counts
	fault string // the program's own mistake: where, and which
}

// Run counts what archives exercise of a ruleset. A record that can't be read as a case is counted and stops nothing.
// When ctx ends early, or an archive can't be read any further, what was counted comes back with the error.
func Run(ctx context.Context, e *engine.Engine, in archive.Input, o Options) (*Report, error) {
	if o.Workers <= 0 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	todo, order := make(chan *chunk, o.Workers), make(chan *chunk, 4*o.Workers)
	var workers sync.WaitGroup
	for range o.Workers {
		workers.Go(func() {
			w := &worker{Counter: NewCounter(e), asOf: o.AsOf, decoder: &archive.Decoder{Reader: e.Ruleset.CaseReader()}}
			for ch := range todo {
				ch.done <- w.chunk(ch)
			}
		})
	}
	read, stop := context.WithCancel(ctx)
	defer stop()
	var readErr error
	go func() {
		defer close(order)
		defer close(todo)
		readErr = cut(read, in, todo, order)
	}()
	total, fault := gather(e, o, order, stop)
	workers.Wait()
	if fault != "" {
		panic(fault) // here, where the caller can answer for it
	}
	r := total.Report(o.AsOf)
	r.AsOf, r.AsOfFrom, r.Partial = o.AsOf.Format(time.RFC3339), "--as-of", readErr != nil
	if o.Clock {
		r.AsOfFrom = "clock"
	}
	return r, readErr
}

// gather adds up the chunks in their order. A fault stops the reading; what is under way is still taken, so that nobody
// waits for ever.
func gather(e *engine.Engine, o Options, order <-chan *chunk, stop func()) (total *Counter, fault string) {
	total = NewCounter(e)
	records := int64(0)
	for ch := range order {
		res := <-ch.done
		if fault == "" {
			fault = res.fault
		}
		if fault != "" {
			stop()
			continue
		}
		total.merge(res.counts)
		if records += res.cases + res.unreadable; o.Progress != nil {
			o.Progress(records)
		}
	}
	return total, fault
}

// cut reads the archives and hands out chunks, to the workers and, in the same order, to whoever adds up.
func cut(ctx context.Context, in archive.Input, todo, order chan<- *chunk) error {
	ch := &chunk{first: 1}
	send := func() {
		if len(ch.records) == 0 {
			return
		}
		next := ch.first + int64(len(ch.records))
		ch.done = make(chan result, 1)
		order <- ch
		todo <- ch
		ch = &chunk{first: next}
	}
	err := archive.Each(ctx, in, func(r *archive.Raw) bool {
		if ch.records = append(ch.records, r); len(ch.records) == chunkSize {
			send()
		}
		return true
	})
	send()
	return err
}

// worker counts chunks.
type worker struct {
	*Counter
	decoder *archive.Decoder
	asOf    time.Time
}

func (w *worker) chunk(ch *chunk) (res result) {
	var at *archive.Raw
	defer func() {
		if p := recover(); p != nil {
			res.fault = fmt.Sprintf("%s: %v", at.Place(), p)
		}
	}()
	for i, r := range ch.records {
		at = r
		w.record(r, ch.first+int64(i))
	}
	ch.records = nil
	return result{counts: w.take()}
}

func (w *worker) record(r *archive.Raw, number int64) {
	c, found := w.decoder.Decode(r)
	if c == nil {
		w.skip(Unread{Number: number, Place: r.Place(), Says: reason(found)})
		return
	}
	on := w.asOf
	if c.HasTaken {
		on = c.Taken
	} else {
		w.undated++
	}
	w.Add(c, on)
}
