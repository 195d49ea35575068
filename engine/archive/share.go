package archive

import (
	"context"
	"fmt"
	"runtime"
	"sync"
)

// Sharing is how the records of archives are shared out among processors.
type Sharing struct {
	Workers int   // 0: as many as there are processors
	Chunk   int   // how many records a worker takes at once
	Skip    int64 // how many records at the beginning are passed over
}

// Worker does what is to be done with records. One goroutine uses it at a time.
type Worker[T any] interface {
	// Record takes in a record, by its number from 1.
	Record(r *Raw, number int64)
	// Take gives what came of the records since it was last called.
	Take() T
}

// Share reads archives in order and hands the records to workers in chunks; what comes of a chunk goes to add, in the order
// of the archives whatever the number of workers. An error of add, or a fault of the program in a worker, stops the
// reading; what is under way by then is still waited for, but added no more. A fault is raised here, where the caller can
// answer for it, with the place of the record. The error is that of add, else that of the reading.
func Share[T any](ctx context.Context, in Input, s Sharing, worker func() Worker[T], add func(T) error) error {
	if s.Workers <= 0 {
		s.Workers = runtime.GOMAXPROCS(0)
	}
	read, stop := context.WithCancel(ctx)
	defer stop()
	todo, order := make(chan *chunk[T], s.Workers), make(chan *chunk[T], 4*s.Workers)
	var workers sync.WaitGroup
	for range s.Workers {
		workers.Go(func() {
			w := worker()
			for ch := range todo {
				ch.done <- ch.work(w)
			}
		})
	}
	var readErr error
	go func() {
		defer close(order)
		defer close(todo)
		readErr = cut(read, in, s, todo, order)
	}()
	fault, err := gather(order, add, stop)
	workers.Wait()
	if fault != "" {
		panic(fault)
	}
	if err != nil {
		return err
	}
	return readErr
}

// chunk is records that stand together.
type chunk[T any] struct {
	first   int64 // number of its first record
	records []*Raw
	done    chan result[T]
}

// result is what came of a chunk.
type result[T any] struct {
	of    T
	fault string // the program's own mistake: where, and which
}

func (ch *chunk[T]) work(w Worker[T]) (res result[T]) {
	var at *Raw
	defer func() {
		if p := recover(); p != nil {
			res.fault = fmt.Sprintf("%s: %v", at.Place(), p)
		}
	}()
	for i, r := range ch.records {
		at = r
		w.Record(r, ch.first+int64(i))
	}
	ch.records = nil
	return result[T]{of: w.Take()}
}

// cut reads the archives and hands out chunks, to the workers and, in the same order, to whoever adds up.
func cut[T any](ctx context.Context, in Input, s Sharing, todo, order chan<- *chunk[T]) error {
	number := int64(0)
	ch := &chunk[T]{first: s.Skip + 1}
	send := func() {
		if len(ch.records) > 0 {
			ch.done = make(chan result[T], 1)
			order <- ch
			todo <- ch
		}
		ch = &chunk[T]{first: number + 1}
	}
	err := Each(ctx, in, func(r *Raw) bool {
		if number++; number <= s.Skip {
			return true
		}
		if ch.records = append(ch.records, r); len(ch.records) == s.Chunk {
			send()
		}
		return true
	})
	send()
	return err
}

// gather adds up the chunks in their order.
func gather[T any](order <-chan *chunk[T], add func(T) error, stop func()) (fault string, err error) {
	for ch := range order {
		res := <-ch.done
		if fault == "" {
			fault = res.fault
		}
		if fault != "" || err != nil {
			stop()
			continue
		}
		err = add(res.of)
	}
	return fault, err
}
