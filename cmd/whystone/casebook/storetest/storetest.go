// Package storetest is what every store of a casebook has to pass.
package storetest

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"whystone/cmd/whystone/casebook"
)

// Day is a clock that stands still until it is moved.
type Day struct {
	mu sync.Mutex
	at time.Time
}

// NewDay begins on a day in spring.
func NewDay() *Day { return &Day{at: time.Date(2031, 4, 12, 12, 0, 0, 0, time.UTC)} }

// Now tells the time.
func (d *Day) Now() time.Time { d.mu.Lock(); defer d.mu.Unlock(); return d.at }

// Pass moves the clock.
func (d *Day) Pass(by time.Duration) { d.mu.Lock(); defer d.mu.Unlock(); d.at = d.at.Add(by) }

// Salt is random bytes that are the same each time.
func Salt() io.Reader { return rand.NewChaCha8([32]byte{7}) }

// Book makes a book in a store.
func Book(s casebook.Store) *casebook.Book {
	return &casebook.Book{Store: s, Now: NewDay().Now, Random: Salt()}
}

// Deeds that open a case with a claim.
func claiming(what string) []casebook.Deed {
	return []casebook.Deed{{Kind: casebook.Opened, Data: casebook.Data{Fields: map[string]string{"claim": what}}}}
}

// Run runs the suite. open makes an empty store; again, if it is not nil, opens the same store another time.
func Run(t *testing.T, open func(*testing.T) casebook.Store, again func(*testing.T, casebook.Store) casebook.Store) {
	for _, x := range []struct {
		name string
		test func(*testing.T, casebook.Store)
	}{
		{"empty", empty}, {"a write is whole", whole}, {"a read is of one moment", oneMoment}, {"records", records},
		{"particulars", particulars}, {"blobs", blobs}, {"find", find}, {"a clock that goes back", backwards},
		{"index", index}, {"an interrupt", interrupt},
	} {
		t.Run(x.name, func(t *testing.T) {
			s := open(t)
			x.test(t, s)
		})
	}
	t.Run("two writers never lose an update", func(t *testing.T) {
		s := open(t)
		stores := []casebook.Store{s}
		if again != nil {
			stores = append(stores, again(t, s))
		}
		twoWriters(t, stores)
	})
}

func read(t *testing.T, s casebook.Store, do func(casebook.View)) {
	t.Helper()
	if err := s.Read(context.Background(), func(v casebook.View) error { do(v); return nil }); err != nil {
		t.Fatal(err)
	}
}

func write(t *testing.T, s casebook.Store, c casebook.Change) {
	t.Helper()
	if err := s.Write(context.Background(), func(tx casebook.Tx) error { return tx.Put(c) }); err != nil {
		t.Fatal(err)
	}
}

func equal(t *testing.T, what string, got, want any) {
	t.Helper()
	if fmt.Sprintf("%q", got) != fmt.Sprintf("%q", want) {
		t.Errorf("%s: got %q, want %q", what, got, want)
	}
}

// must is a result without an error.
func must[T any](t *testing.T) func(T, error) T {
	return func(x T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
}

func rec(seq int64, number string, version int) casebook.Record {
	text := fmt.Sprintf(`{"seq":%d}`, seq)
	return casebook.Record{Seq: seq, Case: number, Version: version, Kind: casebook.Opened, Text: []byte(text),
		Hash: casebook.Hash([]byte(text))}
}

func empty(t *testing.T, s casebook.Store) {
	read(t, s, func(v casebook.View) {
		equal(t, "head", must[casebook.Head](t)(v.Head()), casebook.Head{})
		equal(t, "case", len(must[[]casebook.Record](t)(v.Case("2031-1-A"))), 0)
		if p := must[*casebook.Particular](t)(v.Particular("1/1")); p != nil {
			t.Error("a particular in an empty store")
		}
		if b := must[[]byte](t)(v.Blob("no")); b != nil {
			t.Error("bytes in an empty store")
		}
		equal(t, "found", len(found(t, v, casebook.Terms{})), 0)
		equal(t, "log", len(log(t, v, 0)), 0)
	})
}

func log(t *testing.T, v casebook.View, from int64) (out []int64) {
	t.Helper()
	for r, err := range v.Events(from) {
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, r.Seq)
	}
	return out
}

func found(t *testing.T, v casebook.View, q casebook.Terms) (out []string) {
	t.Helper()
	for e, err := range v.Find(q) {
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, e.Number)
	}
	return out
}

// whole: what fails half way leaves nothing, and a write sees its own puts.
func whole(t *testing.T, s casebook.Store) {
	broken := errors.New("broken off")
	err := s.Write(context.Background(), func(tx casebook.Tx) error {
		for i := range int64(3) {
			c := casebook.Change{Records: []casebook.Record{rec(i+1, "n", int(i)+1)}, Blobs: [][]byte{{byte(i)}},
				Particulars: []casebook.Particular{{ID: fmt.Sprint(i), Case: "n", Salt: []byte("s"),
					Content: []byte("c")}},
				Index: []casebook.Indexing{{Entry: casebook.Entry{Opened: i + 1, Number: fmt.Sprint(i),
					Running: int(i) + 1}, Add: []string{"x"}}}}
			if err := tx.Put(c); err != nil {
				t.Fatal(err)
			}
		}
		equal(t, "seen by itself", log(t, tx, 0), []int64{1, 2, 3})
		equal(t, "found by itself", found(t, tx, casebook.Terms{All: []string{"x"}}), []string{"2", "1", "0"})
		return broken
	})
	if !errors.Is(err, broken) {
		t.Errorf("the error of the write is %v", err)
	}
	empty(t, s)
	func() {
		defer func() { _ = recover() }()
		_ = s.Write(context.Background(), func(tx casebook.Tx) error {
			_ = tx.Put(casebook.Change{Records: []casebook.Record{rec(1, "n", 1)}})
			panic("a fault of the program")
		})
	}()
	empty(t, s)
	write(t, s, casebook.Change{Records: []casebook.Record{rec(1, "n", 1)}})
}

// oneMoment: a read does not see what is written while it is at work.
func oneMoment(t *testing.T, s casebook.Store) {
	write(t, s, casebook.Change{Records: []casebook.Record{rec(1, "n", 1)}})
	read(t, s, func(v casebook.View) {
		equal(t, "before", log(t, v, 0), []int64{1})
		write(t, s, casebook.Change{Records: []casebook.Record{rec(2, "n", 2)}, Blobs: [][]byte{[]byte("b")}})
		equal(t, "after", log(t, v, 0), []int64{1})
		equal(t, "head", must[casebook.Head](t)(v.Head()).Seq, 1)
		equal(t, "case", len(must[[]casebook.Record](t)(v.Case("n"))), 1)
	})
	read(t, s, func(v casebook.View) { equal(t, "later", log(t, v, 0), []int64{1, 2}) })
}

func records(t *testing.T, s casebook.Store) {
	all := []casebook.Record{rec(1, "a", 1), rec(2, "b", 1), rec(3, "a", 2), rec(4, "", 1)}
	write(t, s, casebook.Change{Records: all})
	read(t, s, func(v casebook.View) {
		equal(t, "head", must[casebook.Head](t)(v.Head()), casebook.Head{Seq: 4, Hash: all[3].Hash})
		equal(t, "from 3", log(t, v, 3), []int64{3, 4})
		equal(t, "head of a", must[casebook.Head](t)(v.CaseHead("a")), casebook.Head{Seq: 3, Hash: all[2].Hash})
		equal(t, "head of c", must[casebook.Head](t)(v.CaseHead("c")), casebook.Head{})
		equal(t, "case a", must[[]casebook.Record](t)(v.Case("a")), []casebook.Record{all[0], all[2]})
		equal(t, "the book", must[[]casebook.Record](t)(v.Case("")), all[3:])
		for r, err := range v.Events(0) { // and no further
			equal(t, "the first", r, all[0])
			if err != nil {
				t.Fatal(err)
			}
			break
		}
	})
}

func particulars(t *testing.T, s casebook.Store) {
	a := casebook.Particular{ID: "1/1", Case: "a", Salt: []byte("salt"), Content: []byte("Mrs Smith")}
	b := casebook.Particular{ID: "1/2", Case: "a", Salt: []byte("tlas"), Content: []byte{0, 255}}
	c := casebook.Particular{ID: "2/1", Case: "b", Salt: []byte("x"), Content: []byte("y")}
	write(t, s, casebook.Change{Particulars: []casebook.Particular{c, b, a}})
	read(t, s, func(v casebook.View) {
		equal(t, "of a", must[[]casebook.Particular](t)(v.Particulars("a")), []casebook.Particular{a, b})
		equal(t, "one", *must[*casebook.Particular](t)(v.Particular("1/2")), b)
		equal(t, "ids", must[[]string](t)(v.ParticularIDs()), []string{"1/1", "1/2", "2/1"})
	})
	write(t, s, casebook.Change{Erase: []string{"1/1"}})
	read(t, s, func(v casebook.View) {
		equal(t, "of a", must[[]casebook.Particular](t)(v.Particulars("a")), []casebook.Particular{b})
		if must[*casebook.Particular](t)(v.Particular("1/1")) != nil {
			t.Error("what was erased is there")
		}
	})
}

func blobs(t *testing.T, s casebook.Store) {
	long := []byte(strings.Repeat("a chain of reasoning\n", 10000))
	write(t, s, casebook.Change{Blobs: [][]byte{long, {}, []byte("x"), long}})
	write(t, s, casebook.Change{Blobs: [][]byte{[]byte("x")}})
	read(t, s, func(v casebook.View) {
		for _, b := range [][]byte{long, {}, []byte("x")} {
			got := must[[]byte](t)(v.Blob(casebook.Hash(b)))
			if got == nil || string(got) != string(b) {
				t.Errorf("%d bytes come back as %d", len(b), len(got))
			}
		}
		equal(t, "how many", len(must[[]string](t)(v.Blobs())), 3)
	})
}

func find(t *testing.T, s casebook.Store) {
	var c casebook.Change
	const apart = 997 // places in the log between one case and the next
	for i := range int64(40) {
		ix := casebook.Indexing{Add: []string{fmt.Sprintf("mod2:%d", i%2), fmt.Sprintf("mod3:%d", i%3)},
			Entry: casebook.Entry{Opened: (i + 1) * apart, Number: fmt.Sprint(i),
				Day: fmt.Sprintf("2031-01-%02d", i/2+1), Year: 2031, Running: int(i) + 1, Summary: []byte("{}")}}
		if i == 17 {
			ix.Add = append(ix.Add, "rare")
		}
		c.Index = append(c.Index, ix)
	}
	write(t, s, c)
	want := func(ok func(i int) bool) (out []string) {
		for i := 39; i >= 0; i-- {
			if ok(i) {
				out = append(out, fmt.Sprint(i))
			}
		}
		return out
	}
	day := func(n int) string { return fmt.Sprintf("2031-01-%02d", n) }
	read(t, s, func(v casebook.View) {
		for _, x := range []struct {
			q  casebook.Terms
			ok func(i int) bool
		}{
			{casebook.Terms{}, func(int) bool { return true }},
			{casebook.Terms{All: []string{"mod2:1"}}, func(i int) bool { return i%2 == 1 }},
			{casebook.Terms{All: []string{"mod2:1", "mod3:0"}}, func(i int) bool { return i%2 == 1 && i%3 == 0 }},
			{casebook.Terms{All: []string{"mod2:1", "rare"}}, func(i int) bool { return i == 17 }},
			{casebook.Terms{All: []string{"mod2:1", "none"}}, func(int) bool { return false }},
			{casebook.Terms{From: day(3), To: day(4)}, func(i int) bool { return i >= 4 && i < 8 }},
			{casebook.Terms{From: day(18)}, func(i int) bool { return i >= 34 }},
			{casebook.Terms{To: day(2)}, func(i int) bool { return i < 4 }},
			{casebook.Terms{All: []string{"mod2:0"}, From: day(3), To: day(4)},
				func(i int) bool { return i%2 == 0 && i >= 4 && i < 8 }},
			{casebook.Terms{All: []string{"rare"}, From: day(1)}, func(i int) bool { return i == 17 }},
			{casebook.Terms{All: []string{"rare"}, To: day(1)}, func(int) bool { return false }},
		} {
			equal(t, fmt.Sprintf("%+v", x.q), found(t, v, x.q), want(x.ok))
		}
		equal(t, "the last number", must[int](t)(v.Last(2031)), 40)
		for e, err := range v.Find(casebook.Terms{}) {
			equal(t, "the newest", e, c.Index[39].Entry)
			if err != nil {
				t.Fatal(err)
			}
			break
		}
	})
}

// backwards: a case that was opened later comes first, and is found by its own day, though the clock was put back.
func backwards(t *testing.T, s casebook.Store) {
	days := []string{"2031-01-02", "2031-01-03", "2031-01-01", "2031-01-03", "2031-01-02"}
	for i, day := range days {
		opened := int64(i + 1)
		write(t, s, casebook.Change{Index: []casebook.Indexing{{Add: []string{"x"},
			Entry: casebook.Entry{Opened: opened, Number: day, Year: 2031, Running: i + 1, Day: day,
				Summary: []byte{'0' + byte(i)}}}}})
	}
	read(t, s, func(v casebook.View) {
		for _, q := range []casebook.Terms{{}, {All: []string{"x"}}, {All: []string{"x", "x"}}, {From: "2031-01-01"},
			{From: "2031-01-03"}, {To: "2031-01-01"}} {
			var got, want []int64
			for e, err := range v.Find(q) {
				if err != nil {
					t.Fatal(err)
				}
				got = append(got, e.Opened)
			}
			for i, day := range slices.Backward(days) {
				if day >= q.From && (q.To == "" || day <= q.To) {
					want = append(want, int64(i+1))
				}
			}
			equal(t, fmt.Sprintf("%+v", q), got, want)
		}
	})
}

// index: entries and terms are put in place, taken away, and emptied.
func index(t *testing.T, s casebook.Store) {
	put := func(summary string, reindex bool, add, drop []string) {
		write(t, s, casebook.Change{Reindex: reindex, Index: []casebook.Indexing{{Add: add, Drop: drop,
			Entry: casebook.Entry{Opened: 1, Number: "a", Year: 2031, Running: 7, Day: "2031-01-01",
				Summary: []byte(summary)}}}})
	}
	put("1", false, []string{"x", "y"}, nil)
	put("2", false, []string{"z", "y"}, []string{"x"})
	read(t, s, func(v casebook.View) {
		equal(t, "the last of 2031", must[int](t)(v.Last(2031)), 7)
		equal(t, "the last of 2030", must[int](t)(v.Last(2030)), 0)
	})
	list := func() (out []string) {
		read(t, s, func(v casebook.View) {
			for x, err := range v.Index() {
				if err != nil {
					t.Fatal(err)
				}
				out = append(out, fmt.Sprintf("%s %d %s", x.Term, x.Opened, x.Summary))
			}
		})
		slices.Sort(out)
		return out
	}
	equal(t, "index", list(), []string{" 1 2", "y 1 ", "z 1 "})
	put("3", true, nil, nil)
	equal(t, "made anew", list(), []string{" 1 3"})
}

// interrupt: what was interrupted before it began is not written.
func interrupt(t *testing.T, s casebook.Store) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if err := s.Write(ctx, func(tx casebook.Tx) error { return tx.Put(casebook.Change{Blobs: [][]byte{[]byte("x")}}) }); !errors.Is(err, context.Canceled) {
		t.Errorf("a write after an interrupt: %v", err)
	}
	read(t, s, func(v casebook.View) { equal(t, "blobs", len(must[[]string](t)(v.Blobs())), 0) })
}

// twoWriters has many writers raise the stake of one case, each by what it saw. Whoever saw an old version is refused
// and looks again.
func twoWriters(t *testing.T, stores []casebook.Store) {
	ctx := context.Background()
	const writers, rounds = 4, 8
	opened, err := Book(stores[0]).Open(ctx, "anna", claiming("diamond"))
	if err != nil {
		t.Fatal(err)
	}
	number := opened[0].Number
	var wg sync.WaitGroup
	for w := range writers {
		book := Book(stores[w%len(stores)])
		wg.Go(func() {
			for done := 0; done < rounds; {
				var s *casebook.State
				if err := book.Read(ctx, func(v casebook.View) (err error) {
					s, err = casebook.Load(v, number)
					return err
				}); err != nil {
					t.Error(err)
					return
				}
				stake := 0
				if text := s.Fields["stake"]; text != "" {
					_, _ = fmt.Sscan(text, &stake)
				}
				_, err := book.Do(ctx, fmt.Sprint("writer ", w), s, s.Version, nil,
					casebook.Amend(map[string]string{"stake": fmt.Sprint(stake + 1)}, "one more"))
				var conflict *casebook.Conflict
				switch {
				case err == nil:
					done++
				case errors.As(err, &conflict):
					if len(conflict.Since) == 0 || conflict.Since[0].Version != s.Version+1 {
						t.Errorf("the refusal does not say what changed: %+v", conflict)
					}
				default:
					t.Error(err)
					return
				}
			}
		})
	}
	wg.Wait()
	read(t, stores[0], func(v casebook.View) {
		s := must[*casebook.State](t)(casebook.Load(v, number))
		equal(t, "the stake", s.Fields["stake"], fmt.Sprint(writers*rounds))
		equal(t, "the version", s.Version, 1+writers*rounds)
	})
	if v, err := Book(stores[0]).Verify(ctx); err != nil || !v.Whole() || v.Index {
		t.Errorf("the book is not whole: %+v, %v", v, err)
	}
}
