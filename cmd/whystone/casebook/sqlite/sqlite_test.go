package sqlite

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/casebook/storetest"
)

func open(t testing.TB, folder string) *Store {
	t.Helper()
	s, err := Open(context.Background(), folder, true)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

// quick is a folder in memory where there is one, for tests that are not about the disk: there a sync costs nothing.
func quick(t testing.TB) string {
	t.Helper()
	folder, err := os.MkdirTemp("/dev/shm", "casebook")
	if err != nil {
		return t.TempDir()
	}
	t.Cleanup(func() { _ = os.RemoveAll(folder) })
	return folder
}

// settling has what is new settled after so many events, and after so many cases of one write.
func settling(t testing.TB, events, cases int64) {
	e, c := everyEvents, everyCases
	everyEvents, everyCases = events, cases
	t.Cleanup(func() { everyEvents, everyCases = e, c })
}

// oftenOrNot is how often the tests of the index settle: never, in part, always.
var oftenOrNot = map[string][2]int64{"all is new": {1 << 40, 1 << 40}, "some is settled": {5, 3},
	"all is settled": {1, 1}}

func TestStore(t *testing.T) {
	for name, n := range oftenOrNot {
		t.Run(name, func(t *testing.T) {
			settling(t, n[0], n[1])
			storetest.Run(t, func(t *testing.T) casebook.Store { return open(t, t.TempDir()) },
				func(t *testing.T, s casebook.Store) casebook.Store { return open(t, filepath.Dir(s.(*Store).path)) })
		})
	}
}

// TestSettled: what is new is settled after so many events, and after so many cases of one write.
func TestSettled(t *testing.T) {
	for name, x := range map[string]struct {
		n    [2]int64
		want int64 // the last case that is settled, of five
	}{"events": {[2]int64{3, 1 << 40}, 2}, "cases": {[2]int64{1 << 40, 2}, 4},
		"neither": {[2]int64{1 << 40, 1 << 40}, 0}} {
		settling(t, x.n[0], x.n[1])
		s := open(t, quick(t))
		a := []casebook.Deed{{Kind: casebook.Opened}}
		if _, err := storetest.Book(s).Open(ctx, "anna", a, a, a, a, a); err != nil {
			t.Fatal(err)
		}
		var settled int64
		if err := s.pool.QueryRow("SELECT coalesce(max(settled), 0) FROM stretches").Scan(&settled); err != nil ||
			settled != x.want {
			t.Errorf("after so many %s: settled up to %d, not %d; %v", name, settled, x.want, err)
		}
		var twice int
		if err := s.pool.QueryRow("SELECT count(*) FROM entries WHERE opened <= ? AND terms <> ''",
			settled).Scan(&twice); err != nil || twice > 0 {
			t.Errorf("%d cases that are settled have their terms beside them too; %v", twice, err)
		}
	}
}

// TestMachine closes the file and opens it again between other things.
func TestMachine(t *testing.T) {
	settling(t, 5, 3)
	fresh := func(rt rapid.TB, folder string) casebook.Store {
		s, err := Open(context.Background(), folder, true)
		if err != nil {
			rt.Fatal(err)
		}
		return s
	}
	root := quick(t)
	storetest.Machine(t, func(rt rapid.TB) casebook.Store {
		folder, err := os.MkdirTemp(root, "book")
		if err != nil {
			rt.Fatal(err)
		}
		return fresh(rt, folder)
	}, func(rt rapid.TB, s casebook.Store) casebook.Store {
		if err := s.Close(); err != nil {
			rt.Fatal(err)
		}
		return fresh(rt, filepath.Dir(s.(*Store).path))
	})
}

// TestManyTerms: a search may be for more words than one statement joins tables.
func TestManyTerms(t *testing.T) {
	settling(t, 1<<40, 1)
	b := storetest.Book(open(t, quick(t)))
	words := make([]string, 200)
	for i := range words {
		words[i] = fmt.Sprint("w", i)
	}
	for _, note := range []string{strings.Join(words, " "), strings.Join(words[1:], " ")} {
		if _, err := b.Open(ctx, "anna", []casebook.Deed{{Kind: casebook.Opened,
			Hold: []casebook.Hold{{What: casebook.Note, Content: []byte(note)}}}}); err != nil {
			t.Fatal(err)
		}
	}
	if got := found(t, b, words...); len(got) != 1 {
		t.Errorf("%d cases are found, and one has all words", len(got))
	}
}

// TestList: places of a stretch come back as they were, and what is no list is refused.
func TestList(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		at := rapid.Int64Range(0, 1000).Draw(rt, "stretch")
		places := rapid.SliceOfDistinct(rapid.Int64Range(at*stretch, (at+1)*stretch-1), rapid.ID[int64]).Draw(rt,
			"places")
		slices.Sort(places)
		packed := pack(at, places)
		if back, err := unpack(at, packed); err != nil || !slices.Equal(back, places) {
			rt.Fatalf("%v comes back as %v, %v", places, back, err)
		}
		if _, err := unpack(at, append(packed, 0x80)); !errors.Is(err, casebook.ErrDamaged) {
			rt.Fatalf("half a number is taken: %v", err)
		}
	})
}
