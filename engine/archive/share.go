package archive

import (
	"cmp"
	"context"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"runtime"
	"strings"
	"sync"

	"github.com/cespare/xxhash/v2"
)

// Sharing is how the records of archives are shared out among processors.
type Sharing struct {
	Workers int // 0: as many as there are processors
	Chunk   int // how many records a worker takes at once, at most
	// Past is how far each of the first archives was read before: so much is passed over, once it is known to be the
	// same.
	Past []Extent
	// Seen, if not nil, is told how far an archive is read with the records whose outcome is added next.
	Seen func(archive int, e Extent)
}

// Extent is how far an archive was read: how many records, and a digest of where they stand and what they say.
type Extent struct {
	Archive string `json:"archive"`
	Records int64  `json:"records"`
	Digest  string `json:"digest"`
}

// Comparable refuses a digest that another version of the program made otherwise than this one.
func (e Extent) Comparable() error {
	if e.Records == 0 || strings.HasPrefix(e.Digest, digestKind) {
		return nil
	}
	return fmt.Errorf("%s was counted by another version of this program, which tells its records otherwise: count it "+
		"again from the beginning", e.Archive)
}

// A chunk is cut before it holds more bytes than chunkBytes, and no more than roomBytes are under way: a single record
// may be larger.
const (
	chunkBytes = 256 << 10
	roomBytes  = 4 << 20
)

// Worker does what is to be done with records. One goroutine uses it at a time.
type Worker[T any] interface {
	// Record takes in a record, by its number from 1.
	Record(r *Raw, number int64)
	// Take gives what came of the records since it was last called.
	Take() T
}

// Share reads archives in order and hands the records to workers in chunks; what comes of a chunk goes to add, in the
// order of the archives whatever the number of workers. An error of add, or a fault of the program in a worker, stops
// the reading; what is under way by then is still waited for, but added no more. A fault is raised here, where the
// caller can answer for it, with the place of the record. The error is that of add, else that of the reading.
func Share[T any](ctx context.Context, in Input, s Sharing, worker func() Worker[T], add func(T) error) error {
	if s.Workers <= 0 {
		s.Workers = runtime.GOMAXPROCS(0)
	}
	read, stop := context.WithCancel(ctx)
	defer stop()
	c := &cutter[T]{Sharing: s, in: in, todo: make(chan *chunk[T], s.Workers), order: make(chan *chunk[T], 4*s.Workers),
		room: newRoom(roomBytes)}
	var workers sync.WaitGroup
	for range s.Workers {
		workers.Go(func() {
			w := worker()
			for ch := range c.todo {
				ch.done <- ch.work(w)
			}
		})
	}
	var readErr error
	go func() {
		defer close(c.order)
		defer close(c.todo)
		readErr = c.cut(read)
	}()
	fault, err := c.gather(add, stop)
	workers.Wait()
	if fault != "" {
		panic(fault)
	}
	if err != nil {
		return err
	}
	return readErr
}

// chunk is records of one archive that stand together.
type chunk[T any] struct {
	first   int64 // number of its first record
	records []*Raw
	size    int
	archive int    // its place among the archives
	extent  Extent // of the archive, up to the chunk's last record
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
		ch.records[i] = nil
	}
	return result[T]{of: w.Take()}
}

// cutter reads the archives and hands out chunks, to the workers and, in the same order, to whoever adds up.
type cutter[T any] struct {
	Sharing
	in          Input
	todo, order chan *chunk[T]
	room        *room
	number      int64 // of the last record
}

func (c *cutter[T]) cut(ctx context.Context) error {
	for i := range c.in.Paths {
		var past Extent
		if i < len(c.Past) {
			past = c.Past[i]
		}
		if err := c.archive(ctx, i, past); err != nil {
			return err
		}
	}
	return nil
}

// archive cuts one archive.
func (c *cutter[T]) archive(ctx context.Context, i int, past Extent) error {
	d := newDigest(c.Seen != nil || past.Records > 0)
	e := Extent{Archive: c.in.Paths[i]}
	ch := &chunk[T]{}
	send := func() {
		if len(ch.records) == 0 {
			return
		}
		e.Digest = d.String()
		ch.done, ch.archive, ch.extent = make(chan result[T], 1), i, e
		c.room.take(ch.size)
		c.order <- ch
		c.todo <- ch
		ch = &chunk[T]{}
	}
	var changed error
	readErr := c.in.each(ctx, e.Archive, func(r *Raw) bool {
		size := r.Size()
		if ch.size+size > chunkBytes {
			send()
		}
		c.number++
		e.Records++
		d.add(r)
		if e.Records <= past.Records {
			if e.Records == past.Records && d.String() != past.Digest {
				changed = fmt.Errorf("%s has changed: its first %d records are not those that were counted", e.Archive,
					past.Records)
			}
			return changed == nil
		}
		if len(ch.records) == 0 {
			ch.first = c.number
		}
		ch.records, ch.size = append(ch.records, r), ch.size+size
		if len(ch.records) == c.Chunk {
			send()
		}
		return true
	})
	send()
	if readErr == nil && e.Records < past.Records {
		changed = fmt.Errorf("%s has changed: %d records of it were counted, and it has %d", e.Archive, past.Records,
			e.Records)
	}
	return cmp.Or(changed, readErr)
}

// gather adds up the chunks in their order.
func (c *cutter[T]) gather(add func(T) error, stop func()) (fault string, err error) {
	for ch := range c.order {
		res := <-ch.done
		if fault == "" {
			fault = res.fault
		}
		if fault != "" || err != nil {
			stop()
		} else {
			if c.Seen != nil {
				c.Seen(ch.archive, ch.extent)
			}
			err = add(res.of)
		}
		c.room.give(ch.size)
	}
	return fault, err
}

// room bounds the bytes of the records that are under way.
type room struct {
	mu          sync.Mutex
	changed     *sync.Cond
	taken, most int
}

func newRoom(most int) *room {
	r := &room{most: most}
	r.changed = sync.NewCond(&r.mu)
	return r
}

// take waits until there is room, or nothing else is under way.
func (r *room) take(bytes int) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for r.taken > 0 && r.taken+bytes > r.most {
		r.changed.Wait()
	}
	r.taken += bytes
}

func (r *room) give(bytes int) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.taken -= bytes
	r.changed.Signal()
}

// digest is a running hash of an archive's records: where each stands, and all that it says. It shows a change that came
// about by chance or by mistake, and not one that somebody means to hide.
type digest struct {
	to     *xxhash.Digest // nil: nobody wants to know
	header *Header        // whose names it has
	buf    []byte
}

// digestKind is how a digest is made: one that was made otherwise can't be compared.
const digestKind = "xxh64:"

func newDigest(wanted bool) *digest {
	if !wanted {
		return &digest{}
	}
	return &digest{to: xxhash.New()}
}

func (d *digest) add(r *Raw) {
	if d.to == nil {
		return
	}
	b := d.buf[:0]
	if r.Header != nil && r.Header != d.header {
		d.header = r.Header
		for _, name := range r.Header.names() {
			b = behindLength(b, name)
		}
	}
	b = binary.LittleEndian.AppendUint64(b, uint64(r.Line))
	b = binary.LittleEndian.AppendUint64(b, uint64(len(r.Cells)))
	for i := range r.Cells {
		b = binary.LittleEndian.AppendUint64(b, uint64(r.Cells[i].Column))
		b = behindLength(b, r.Cells[i].Text)
	}
	if r.Err != nil {
		b = behindLength(b, r.Err.Error())
	}
	d.buf = binary.LittleEndian.AppendUint64(b, uint64(len(r.Text)))
	_, _ = d.to.Write(d.buf) // a hash takes everything
	_, _ = d.to.WriteString(r.Text)
}

// behindLength appends a text behind its length.
func behindLength(to []byte, text string) []byte {
	return append(binary.LittleEndian.AppendUint64(to, uint64(len(text))), text...)
}

func (d *digest) String() string {
	if d.to == nil {
		return ""
	}
	return digestKind + hex.EncodeToString(d.to.Sum(nil))
}
