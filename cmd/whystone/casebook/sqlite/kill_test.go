package sqlite

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"whystone/cmd/whystone/casebook"
	"whystone/cmd/whystone/casebook/storetest"
)

// childVar names what a child process of a test is to do; its folder is the next argument.
const childVar = "CASEBOOK_TEST_CHILD"

// children are the programs that tests start beside themselves.
var children = map[string]func(folder string) error{"write": writeForEver}

func TestMain(m *testing.M) {
	if do := children[os.Getenv(childVar)]; do != nil {
		if err := do(os.Args[1]); err != nil {
			_, _ = fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

func child(do, folder string) *exec.Cmd {
	cmd := exec.Command(os.Args[0], folder)
	cmd.Env = append(os.Environ(), childVar+"="+do)
	cmd.Stderr = os.Stderr
	return cmd
}

// writeForEver has three writers open cases and add to them, and tells each write once it is acknowledged: the case,
// the version, and the hash of the last event.
func writeForEver(folder string) error {
	everyEvents = 16
	s, err := Open(context.Background(), folder, true)
	if err != nil {
		return err
	}
	b := storetest.Book(s)
	errs := make(chan error)
	var mu sync.Mutex
	for w := range 3 {
		go func() {
			for {
				if err := writeSome(b, fmt.Sprint("writer ", w), &mu, os.Stdout); err != nil {
					errs <- err
					return
				}
			}
		}()
	}
	return <-errs
}

// writeSome opens a case with two readings, and adds a reading and a note to it, five times.
func writeSome(b *casebook.Book, by string, mu *sync.Mutex, out io.Writer) error {
	opened, err := b.Open(context.Background(), by, []casebook.Deed{{Kind: casebook.Opened}, casebook.Add("ri", "1.5"),
		casebook.Add("ri", "1.6")})
	if err != nil {
		return err
	}
	s := opened[0]
	for n := 0; ; n++ {
		last := s.Events[len(s.Events)-1]
		r, err := last.Seal()
		if err != nil {
			return err
		}
		mu.Lock()
		_, err = fmt.Fprintf(out, "%s %d %d %s\n", s.Number, s.Version, r.Seq, r.Hash)
		mu.Unlock()
		if err != nil || n == 5 {
			return err
		}
		if s, err = b.Do(context.Background(), by, s, 0, nil, casebook.Add("ri", strings.Repeat("1", 1+n*40)),
			casebook.Write(casebook.Note, "a note of "+by)); err != nil {
			return err
		}
	}
}

// TestKilled kills programs that write to one casebook at drawn moments, two at once sometimes. Nothing that was
// acknowledged is lost, nothing is there by half, and the chain is whole. It is about what the program leaves behind;
// that a sync is made before a write is acknowledged is shown by what it costs (BenchmarkWrite).
func TestKilled(t *testing.T) {
	rounds := 80
	switch {
	case testing.Short():
		rounds = 12
	case os.Getenv("WHYSTONE_REQUIRE_ALL") == "1":
		rounds = 200
	}
	rng := rand.New(rand.NewPCG(20310412, 7))
	folder, acknowledged := "", 0
	for round := range rounds {
		if round%10 == 0 {
			folder = t.TempDir()
		}
		n := 1 + rng.IntN(2)
		var acks []string
		var mu sync.Mutex
		var wg sync.WaitGroup
		for range n {
			after, wait := rng.IntN(40), time.Duration(rng.IntN(3000))*time.Microsecond
			wg.Go(func() {
				got := kill(t, folder, after, wait)
				mu.Lock()
				acks = append(acks, got...)
				mu.Unlock()
			})
		}
		wg.Wait()
		acknowledged += len(acks)
		afterwards(t, folder, acks)
		if t.Failed() {
			t.Fatalf("round %d", round)
		}
	}
	t.Logf("%d rounds, %d writes acknowledged", rounds, acknowledged)
}

// kill starts a program, kills it a moment after so many writes, and returns those that it told.
func kill(t *testing.T, folder string, after int, wait time.Duration) (acks []string) {
	cmd := child("write", folder)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Error(err)
		return nil
	}
	if err := cmd.Start(); err != nil {
		t.Error(err)
		return nil
	}
	lines := bufio.NewReader(out)
	for {
		line, err := lines.ReadString('\n')
		if err != nil { // what was not told whole was told to nobody
			break
		}
		if acks = append(acks, line); len(acks) == after+1 {
			time.Sleep(wait)
			_ = cmd.Process.Kill() // it may have ended, which Wait tells
		}
	}
	if err := cmd.Wait(); err == nil {
		t.Errorf("the program ended by itself: %v", err)
	}
	return acks
}

// afterwards looks at what killed programs left.
func afterwards(t *testing.T, folder string, acks []string) {
	t.Helper()
	s, err := Open(ctx, folder, false)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	b := storetest.Book(s)
	if v, err := b.Verify(ctx); err != nil || !v.Whole() || v.Index {
		t.Errorf("the book is not whole: %+v, %v", v, err)
	}
	if err := s.Sound(ctx); err != nil {
		t.Error(err)
	}
	if err := b.Read(ctx, func(v casebook.View) error {
		for _, ack := range acks {
			var number, hash string
			var version int
			var seq int64
			if _, err := fmt.Sscan(ack, &number, &version, &seq, &hash); err != nil {
				return err
			}
			records, err := v.Case(number)
			if err != nil {
				return err
			}
			if len(records) < version || records[version-1].Hash != hash || records[version-1].Seq != seq {
				t.Errorf("lost: %s", ack)
			}
		}
		for e, err := range v.Find(casebook.Terms{}) {
			if err != nil {
				return err
			}
			records, err := v.Case(e.Number)
			if err != nil {
				return err
			}
			if len(records) < 3 || len(records)%2 != 1 {
				t.Errorf("%s is there by half: %d events", e.Number, len(records))
			}
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
}
