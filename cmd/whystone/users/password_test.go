package users

import (
	"bytes"
	"context"
	"crypto/rand"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// TestReferenceHash: a hash that the reference implementation of Argon2 wrote is read, of the cost that passwords have
// here. Source: what its program argon2 (Debian package argon2 0~20171227) prints for
//
//	echo -n password | argon2 somesalt -id -t 3 -m 16 -p 4 -l 32 -e
func TestReferenceHash(t *testing.T) {
	const theirs = "$argon2id$v=19$m=65536,t=3,p=4$c29tZXNhbHQ$Zh/vvW8pvLyPRkarwyqdekZFu1wFlTf4pVh/Ma2+zM0"
	h := newHasher(Usual)
	if ok, err := h.fits(context.Background(), "password", theirs); !ok || err != nil {
		t.Errorf("%v, %v", ok, err)
	}
	if ok, err := h.fits(context.Background(), "passwort", theirs); ok || err != nil {
		t.Errorf("%v, %v", ok, err)
	}
}

func TestHash(t *testing.T) {
	h := newHasher(Cost{Passes: 1, Memory: 64, Threads: 2})
	ctx := context.Background()
	a, err := h.hash(ctx, "one", rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	b, _ := h.hash(ctx, "one", rand.Reader)
	if a == b {
		t.Error("two hashes of one password are alike")
	}
	for password, want := range map[string]bool{"one": true, "two": false, "": false} {
		if ok, err := h.fits(ctx, password, a); ok != want || err != nil {
			t.Errorf("%q: %v, %v", password, ok, err)
		}
	}
	if ok, err := h.fits(ctx, "", ""); ok || err != nil {
		t.Errorf("no hash: %v, %v", ok, err)
	}
	for _, bad := range []string{"x", strings.Replace(a, "argon2id", "argon2i", 1),
		strings.Replace(a, "v=19", "v=18", 1), strings.Replace(a, "m=64", "m=99999999", 1),
		strings.Replace(a, "t=1", "t=0", 1), strings.Replace(a, "p=2", "p=0", 1), a[:len(a)-30], a + "!"} {
		if ok, err := h.fits(ctx, "one", bad); ok || err == nil {
			t.Errorf("%q is taken", bad)
		}
	}
	if Usual != (Cost{3, 1 << 16, 4}) {
		t.Error("the cost is not that of RFC 9106, section 4, second recommended option")
	}
}

// TestTwoAtATime: of many that hash, two are at work.
func TestTwoAtATime(t *testing.T) {
	h := newHasher(Usual)
	var now, most atomic.Int32
	var wg sync.WaitGroup
	for range 20 {
		wg.Go(func() {
			done, err := h.wait(context.Background())
			if err != nil {
				t.Error(err)
				return
			}
			most.Store(max(most.Load(), now.Add(1)))
			time.Sleep(time.Millisecond)
			now.Add(-1)
			done()
		})
	}
	wg.Wait()
	if most.Load() != 2 {
		t.Errorf("%d at a time", most.Load())
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	for range 2 {
		if _, err := h.wait(context.Background()); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := h.hash(ctx, "x", rand.Reader); err == nil {
		t.Error("it waits for ever")
	}
}

func TestNewWord(t *testing.T) {
	seen := map[string]bool{}
	for range 1000 {
		w, err := newWord(rand.Reader)
		if err != nil || len(w) != 19 || strings.Count(w, "-") != 3 || seen[w] {
			t.Fatalf("%q, %v", w, err)
		}
		seen[w] = true
	}
	if _, err := newWord(bytes.NewReader([]byte{1, 2})); err == nil {
		t.Error("a word is made of nothing")
	}
}
