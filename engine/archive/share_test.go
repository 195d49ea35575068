package archive

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
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

// TestShare: every record comes once, and in order, whatever the number of workers, the size of chunks and what is passed over.
func TestShare(t *testing.T) {
	in := many(t, 103)
	for _, s := range []Sharing{{Workers: 1, Chunk: 1}, {Workers: 4, Chunk: 10}, {Workers: 3, Chunk: 103}, {Chunk: 1000}, {Workers: 2, Chunk: 7, Skip: 50}, {Workers: 2, Chunk: 7, Skip: 103}} {
		var got, want []int64
		for n := s.Skip + 1; n <= 103; n++ {
			want = append(want, n)
		}
		err := Share(context.Background(), in, s, func() Worker[[]int64] { return &noting{} }, func(of []int64) error {
			got = append(got, of...)
			return nil
		})
		if err != nil || !slices.Equal(got, want) {
			t.Errorf("%+v: %v, err %v", s, got, err)
		}
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
				err = Share(context.Background(), in, Sharing{Workers: 2, Chunk: 10}, func() Worker[[]int64] { return &noting{fault: fault} },
					func(of []int64) error {
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
	err := Share(ctx, many(t, 50_000), Sharing{Workers: 2, Chunk: 10}, func() Worker[[]int64] { return &noting{} }, func(of []int64) error {
		added += len(of)
		cancel()
		return nil
	})
	if !errors.Is(err, context.Canceled) || added == 0 || added == 50_000 {
		t.Errorf("%d added, err %v", added, err)
	}
}
