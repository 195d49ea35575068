package archive

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// noting notes the numbers of the records that it gets; one of them is a fault of the program.
type noting struct {
	fault int64
	got   []int64
}

func (n *noting) Record(_ *Raw, number int64) {
	if number == n.fault {
		panic("a mistake")
	}
	n.got = append(n.got, number)
}

func (n *noting) Take() []int64 {
	out := n.got
	n.got = nil
	return out
}

func many(t *testing.T, records int) Input {
	t.Helper()
	path := filepath.Join(t.TempDir(), "a.jsonl")
	var b strings.Builder
	for i := range records {
		fmt.Fprintf(&b, "{\"case\": \"%d\", \"note\": \"%s\"}\n", i+1, strings.Repeat("x", 100))
	}
	if err := os.WriteFile(path, []byte(b.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	return Input{Paths: []string{path}, Read: new(atomic.Int64)}
}

// TestShare: every record comes once, and in order, whatever the number of workers and the size of chunks.
func TestShare(t *testing.T) {
	in := many(t, 103)
	for _, s := range []Sharing{{Workers: 1, Chunk: 1}, {Workers: 4, Chunk: 10}, {Workers: 3, Chunk: 103},
		{Chunk: 1000}} {
		if got, err := shared(in, s); err != nil || !slices.Equal(got, from(1, 103)) {
			t.Errorf("%+v: %v, err %v", s, got, err)
		}
	}
}

// shared is the numbers of the records that are handed out.
func shared(in Input, s Sharing) (got []int64, err error) {
	err = Share(context.Background(), in, s, func() Worker[[]int64] { return &noting{} }, func(of []int64) error {
		got = append(got, of...)
		return nil
	})
	return got, err
}

func from(first, last int64) (out []int64) {
	for n := first; n <= last; n++ {
		out = append(out, n)
	}
	return out
}

// TestShareGoesOn: from any point on that was told, the rest is handed out, and no more; unless what was read is no
// longer the same, be it in the middle of a long archive.
func TestShareGoesOn(t *testing.T) {
	a, b := many(t, 60), many(t, 43)
	in := Input{Paths: append(a.Paths, b.Paths...)}
	past := [][]Extent{nil}
	s := Sharing{Workers: 3, Chunk: 7, Seen: func(i int, e Extent) {
		next := append(slices.Clone(past[len(past)-1]), Extent{}, Extent{})[:2]
		next[i] = e
		past = append(past, next)
	}}
	if _, err := shared(in, s); err != nil || len(past) != 1+9+7 {
		t.Fatalf("%d extents, err %v", len(past), err)
	}
	last := past[len(past)-1]
	if last[0].Records != 60 || last[1].Records != 43 || last[0].Digest == last[1].Digest ||
		last[1].Archive != in.Paths[1] {
		t.Errorf("at the end %+v", last)
	}
	s.Seen = nil
	for _, s.Past = range past {
		done := int64(0)
		for _, e := range s.Past {
			done += e.Records
		}
		if got, err := shared(in, s); err != nil || !slices.Equal(got, from(done+1, 103)) {
			t.Errorf("after %+v: %v, err %v", s.Past, got, err)
		}
	}
	text, err := os.ReadFile(in.Paths[0])
	if err != nil {
		t.Fatal(err)
	}
	for name, edit := range map[string]string{
		"corrected": strings.Replace(string(text), `"31"`, `"13"`, 1),
		"shorter":   string(text[:len(text)/3]),
		"moved":     "\n" + string(text),
		"longer":    string(text) + "{\"case\": \"late\"}\n",
	} {
		if err := os.WriteFile(in.Paths[0], []byte(edit), 0o600); err != nil {
			t.Fatal(err)
		}
		s.Past = last[:1]
		got, err := shared(in, s)
		if name == "longer" { // what was counted is the same
			if err != nil || !slices.Equal(got, from(61, 104)) {
				t.Errorf("longer: %v, err %v", got, err)
			}
		} else if err == nil || !strings.Contains(err.Error(), in.Paths[0]+" has changed") || len(got) > 0 {
			t.Errorf("%s: %v, err %v", name, got, err)
		}
	}
	other := last[0]
	other.Digest = strings.TrimPrefix(other.Digest, digestKind)
	if err := other.Comparable(); err == nil || last[0].Comparable() != nil || (Extent{}).Comparable() != nil {
		t.Errorf("a digest of another kind: %v", err)
	}
}

// TestDigestTellsRecordsApart: what is joined from the same bytes is not the same records.
func TestDigestTellsRecordsApart(t *testing.T) {
	cells := func(of ...string) (out []Cell) {
		for i, text := range of {
			if text != "" {
				out = append(out, Cell{Column: int32(i), Text: text})
			}
		}
		return out
	}
	seen := map[string]int{}
	for n, records := range [][]Raw{
		{{Line: 1, Text: "ab"}}, {{Line: 2, Text: "ab"}}, {{Line: 1, Text: "a"}, {Line: 2, Text: "b"}},
		{{Line: 1, Cells: cells("ab")}}, {{Line: 1, Cells: cells("a", "b")}}, {{Line: 1, Cells: cells("", "ab")}},
		{{Line: 1, Cells: cells("a", "", "b")}}, {{Line: 1, Err: errTooLong}}, {{Line: 1, Err: errTooLongRow}},
	} {
		d := newDigest(true)
		for i := range records {
			d.add(&records[i])
		}
		if was, ok := seen[d.String()]; ok {
			t.Errorf("%d has the digest of %d", n, was)
		}
		seen[d.String()] = n
	}
}

// TestRoom: no more bytes are under way than there is room for, but for a single record that is larger.
func TestRoom(t *testing.T) {
	r := newRoom(100)
	var under, most, largest atomic.Int64
	var group sync.WaitGroup
	for _, size := range []int{40, 70, 30, 250, 10, 90, 100, 60} {
		for range 20 {
			group.Go(func() {
				r.take(size)
				now := under.Add(int64(size))
				if size <= 100 {
					most.Store(max(most.Load(), now))
				} else {
					largest.Store(max(largest.Load(), now))
				}
				time.Sleep(time.Millisecond) // long enough that others want in
				under.Add(-int64(size))
				r.give(size)
			})
		}
	}
	group.Wait()
	if most.Load() > 100 || largest.Load() > 250 || r.taken != 0 {
		t.Errorf("%d and %d under way, %d at the end", most.Load(), largest.Load(), r.taken)
	}
}

// TestChunksAreCutByBytes: large records are not gathered by their number.
func TestChunksAreCutByBytes(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.jsonl")
	line := `{"case": "1", "note": "` + strings.Repeat("x", 100<<10) + "\"}\n"
	if err := os.WriteFile(path, []byte(strings.Repeat(line, 20)), 0o600); err != nil {
		t.Fatal(err)
	}
	chunks := 0
	if _, err := shared(Input{Paths: []string{path}}, Sharing{Workers: 2, Chunk: 512, Seen: func(_ int, e Extent) {
		if chunks++; e.Records != int64(2*chunks) {
			t.Errorf("chunk %d ends with record %d", chunks, e.Records)
		}
	}}); err != nil || chunks != 10 {
		t.Errorf("%d chunks, err %v", chunks, err)
	}
}

// holding notes how much memory is in use, and is slow.
type holding struct{ most *atomic.Uint64 }

func (h holding) Record(*Raw, int64) {
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	h.most.Store(max(h.most.Load(), m.HeapAlloc))
}

func (h holding) Take() int { return 0 }

// TestMemoryIsBounded: records of a megabyte each, far more of them than are held, by way of standard input.
func TestMemoryIsBounded(t *testing.T) {
	const records = 200
	line := `{"case": "1", "note": "` + strings.Repeat("x", MaxLine-100) + "\"}\n"
	in, feed := io.Pipe()
	go func() {
		for range records {
			_, _ = io.WriteString(feed, line)
		}
		_ = feed.Close()
	}()
	var before runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	h := holding{new(atomic.Uint64)}
	if err := Share(context.Background(), Input{Paths: []string{Stdin}, Stdin: in}, Sharing{Workers: 2, Chunk: 512},
		func() Worker[int] { return h }, func(int) error { return nil }); err != nil {
		t.Fatal(err)
	}
	if held := int64(h.most.Load()) - int64(before.HeapAlloc); held > 64<<20 {
		t.Errorf("%d MiB are held of %d MiB", held>>20, records)
	}
}

// TestShareStops: after a fault or an error nothing is added any more, and the reading is stopped.
func TestShareStops(t *testing.T) {
	full := errors.New("the disk is full")
	for name, fault := range map[string]int64{"fault": 25, "error": 0} {
		t.Run(name, func(t *testing.T) {
			in := many(t, 50_000)
			var got []int64
			var err error
			raised := func() (raised any) {
				defer func() { raised = recover() }()
				err = Share(context.Background(), in, Sharing{Workers: 2, Chunk: 10},
					func() Worker[[]int64] { return &noting{fault: fault} }, func(of []int64) error {
						if got = append(got, of...); fault == 0 && len(got) == 20 {
							return full
						}
						return nil
					})
				return nil
			}()
			if len(got) != 20 || got[19] != 20 {
				t.Errorf("added are %v", got)
			}
			if read := in.Read.Load(); read == 0 || read > in.Size()/2 {
				t.Errorf("%d bytes of %d were read", read, in.Size())
			}
			switch says, _ := raised.(string); {
			case fault == 0 && (raised != nil || !errors.Is(err, full)):
				t.Errorf("err %v, fault %v", err, raised)
			case fault != 0 && says != in.Paths[0]+":25: a mistake":
				t.Errorf("fault %v", raised)
			}
		})
	}
}

// TestShareEnds: a context that ends is the error, and what was read by then is added.
func TestShareEnds(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	added := 0
	err := Share(ctx, many(t, 50_000), Sharing{Workers: 2, Chunk: 10}, func() Worker[[]int64] { return &noting{} },
		func(of []int64) error {
			added += len(of)
			cancel()
			return nil
		})
	if !errors.Is(err, context.Canceled) || added == 0 || added == 50_000 {
		t.Errorf("%d added, err %v", added, err)
	}
}
