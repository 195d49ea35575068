package reload

import (
	"context"
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/fsnotify/fsnotify"

	"whystone/kb"
	"whystone/kb/diag"
)

// fake is a notifier that tells only what a test sends. Its channels hold nothing: a send returns when the pump has
// dealt with what was sent before.
type fake struct {
	events chan fsnotify.Event
	errs   chan error
	refuse error // what Add fails with
}

func newFake() *fake {
	return &fake{events: make(chan fsnotify.Event), errs: make(chan error)}
}

func (f *fake) Add(string) error              { return f.refuse }
func (f *fake) Events() <-chan fsnotify.Event { return f.events }
func (f *fake) Errors() <-chan error          { return f.errs }
func (f *fake) Close() error                  { close(f.events); close(f.errs); return nil }

func silent() (notifier, error) { return newFake(), nil }

func TestPollAlone(t *testing.T) {
	o := slow()
	o.Poll = 20 * time.Millisecond
	r := newRig(t).start(o, silent)
	r.save("a.yaml", rule("a", "second"))
	r.becomes("a=second")
	r.save("a.yaml", broken)
	r.staleWith(brokenAt)
	n := r.readings()
	r.wait("many readings of the same", func() bool { return r.readings() > n+5 })
	r.write("a.yaml", rule("a", "second"))
	r.becomes("a=second")
	r.Close()
	if got := r.loads(); len(got) != 1 || len(r.statuses) != 3 {
		t.Errorf("loads %q, statuses %+v", got, r.statuses)
	}
}

func TestNoWatchesToBeHad(t *testing.T) {
	for name, open := range map[string]opener{
		"no notifier": func() (notifier, error) { return nil, errors.New("too many open files") },
		"no watch": func() (notifier, error) {
			f := newFake()
			f.refuse = errors.New("no space left")
			return f,
				nil
		},
	} {
		t.Run(name, func(t *testing.T) {
			o := slow()
			o.Longest = 30 * time.Millisecond
			r := newRig(t).start(o, open)
			r.save("a.yaml", rule("a", "second"))
			r.becomes("a=second")
		})
	}
}

func TestOverflowIsAChange(t *testing.T) {
	opened := make(chan *fake, 100)
	r := newRig(t).start(slow(), func() (notifier, error) { f := newFake(); opened <- f; return f, nil })
	r.write("a.yaml", rule("a", "second"))
	(<-opened).errs <- fsnotify.ErrEventOverflow
	r.becomes("a=second")
	select {
	case <-opened:
	default:
		t.Error("the watches were not laid anew")
	}
}

// TestNothingIsMissedWhileLoading changes a file when it was read and is not yet running, at the first load and later.
func TestNothingIsMissedWhileLoading(t *testing.T) {
	r := newRig(t)
	o := slow()
	var again atomic.Bool
	o.Prepare = func(rs *kb.Ruleset) (*prepared, diag.List) {
		if again.CompareAndSwap(false, true) {
			r.write("a.yaml", rule("a", "second"))
		}
		return prepare(rs)
	}
	r.start(o, openNotifier)
	r.becomes("a=second")
	again.Store(false)
	r.write("a.yaml", rule("a", "third")) // Prepare puts the second back
	r.wait("the third and the second again", func() bool { return r.Current().Seq == 4 })
	r.becomes("a=second")
}

// meddler is a real notifier that does something just before a folder is watched.
type meddler struct {
	notifier
	before func(folder string)
}

func (m meddler) Add(folder string) error {
	m.before(folder)
	return m.notifier.Add(folder)
}

func TestAFolderThatComesWhileWatchesAreLaid(t *testing.T) {
	r := newRig(t)
	r.start(slow(), func() (notifier, error) {
		real, err := openNotifier()
		return meddler{real, func(folder string) {
			if _, err := os.Stat(r.path("late")); err != nil && folder == r.root {
				r.write("late/b.yaml", rule("b", "first"))
			}
		}}, err
	})
	r.becomes("a=first b=first")
	r.save("late/b.yaml", rule("b", "second"))
	r.becomes("a=first b=second")
}

// counted passes a real notifier's events on and counts them.
type counted struct {
	notifier
	events  chan fsnotify.Event
	attribs atomic.Int64
	all     atomic.Int64
}

func count(t *testing.T) *counted {
	t.Helper()
	real, err := openNotifier()
	if err != nil {
		t.Fatal(err)
	}
	c := &counted{notifier: real, events: make(chan fsnotify.Event)}
	go func() {
		defer close(c.events)
		for e := range real.Events() {
			c.events <- e
			c.all.Add(1)
			if e.Op == fsnotify.Chmod {
				c.attribs.Add(1)
			}
		}
	}()
	return c
}

func (c *counted) Events() <-chan fsnotify.Event { return c.events }

// until waits for events to have been taken by the pump.
func until(t *testing.T, what string, holds func() bool) {
	t.Helper()
	for end := time.Now().Add(patience); !holds(); time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			t.Fatal("never: ", what)
		}
	}
}

func TestWhatDoesNotMatter(t *testing.T) {
	r := newRig(t)
	c := count(t)
	w, err := openWatch(func() (notifier, error) { return c, nil }, []string{r.root}, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	defer w.close()
	quiet := func(after string) {
		t.Helper()
		// A new file beside the root gives two events or more: when the second was taken, all before it is dealt with.
		all := c.all.Load()
		r.must(os.WriteFile(filepath.Join(r.parent, after+".db"), []byte("x"), 0o644))
		until(t, "the events beside the root", func() bool { return c.all.Load() >= all+2 })
		if len(w.changed) != 0 {
			t.Errorf("a change was told after %s", after)
		}
	}
	for _, mode := range []os.FileMode{0o600, 0o640, 0o644} {
		before := c.attribs.Load()
		r.must(os.Chmod(r.path("a.yaml"), mode))
		until(t, "the change of attributes", func() bool { return c.attribs.Load() > before })
	}
	quiet("a change of attributes")
	quiet("writing beside the root")

	r.write("a.yaml", rule("a", "second"))
	until(t, "a change in the root is told", func() bool { return len(w.changed) == 1 })
	<-w.changed
	r.must(os.Rename(r.root, filepath.Join(r.parent, "away")))
	until(t, "the root's going is told", func() bool { return len(w.changed) == 1 })
}

func TestLinksInACircle(t *testing.T) {
	dir := t.TempDir()
	a, b := filepath.Join(dir, "a"), filepath.Join(dir, "b")
	if err := errors.Join(os.Symlink(a, b), os.Symlink(b, a)); err != nil {
		t.Fatal(err)
	}
	w, err := openWatch(openNotifier, []string{a}, slog.New(slog.DiscardHandler))
	if err == nil || !strings.Contains(err.Error(), "more than 40 symbolic links") {
		t.Errorf("error %v", err)
	}
	w.close()
}

func TestDefaults(t *testing.T) {
	o := Options[int]{}.filled()
	if o.Quiet != 250*time.Millisecond || o.Longest != 2*time.Second || o.Poll != 45*time.Second {
		t.Errorf("quiet %v, longest %v, poll %v", o.Quiet, o.Longest, o.Poll)
	}
	if o := (Options[int]{Quiet: time.Minute}).filled(); o.Longest != time.Minute {
		t.Errorf("gathering ends after %v, before it is quiet", o.Longest)
	}
}

func goroutines() int { return runtime.NumGoroutine() }

// fewerThan waits until goroutines that are ending have ended.
func fewerThan(t *testing.T, n int) {
	t.Helper()
	until(t, "fewer goroutines", func() bool { return goroutines() < n })
}

func TestCloseLeaksNothing(t *testing.T) {
	before := goroutines()
	r := newRig(t).start(slow(), openNotifier)
	while := goroutines()
	for _, says := range []string{"second", "third", "fourth", "fifth", "sixth"} {
		r.save("a.yaml", rule("a", says))
		r.becomes("a=" + says)
	}
	fewerThan(t, while+1) // watches that were given up
	if err := errors.Join(r.Close(), r.Close()); err != nil {
		t.Error(err)
	}
	fewerThan(t, before+1)
	r.write("a.yaml", rule("a", "late"))
	if r.Current().Prepared.says != "a=sixth" || r.Status().Stale {
		t.Error("what was loaded must stay")
	}
}

func TestTheContextEndsIt(t *testing.T) {
	before := goroutines()
	ctx, cancel := context.WithCancel(context.Background())
	r := newRig(t).startIn(ctx, slow(), openNotifier)
	cancel()
	<-r.done
	fewerThan(t, before+1)
}

// TestClosingIsNoFailure ends the context while files are read, where every reading may be loaded at once.
func TestClosingIsNoFailure(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	r := newRig(t)
	var armed atomic.Bool
	r.onRead = func() {
		if armed.Load() {
			cancel()
		}
	}
	o := slow()
	o.Quiet, o.Longest = 1, 1
	r.startIn(ctx, o, openNotifier)
	armed.Store(true)
	r.write("a.yaml", rule("a", "second"))
	<-r.done
	if s := r.Status(); s.Stale || len(r.statuses) != 0 {
		t.Errorf("closing made it stale: %v", s.Why)
	}
}

func TestCloseDuringALoad(t *testing.T) {
	before := goroutines()
	o := slow()
	o.Quiet, o.Poll = time.Millisecond, time.Millisecond
	for range 20 {
		r := newRig(t).start(o, openNotifier)
		r.save("a.yaml", rule("a", "second"))
		n := r.readings()
		r.wait("a reading", func() bool { return r.readings() > n })
		r.Close()
		if s := r.Status(); s.Stale {
			t.Fatalf("closing made it stale: %v", s.Why)
		}
	}
	fewerThan(t, before+1)
}

// TestARightTakenAwayIsAChange: a file that can't be read any more is told at once, not when another is edited.
func TestARightTakenAwayIsAChange(t *testing.T) {
	r := newRig(t)
	defer func(f func(string) bool) { mayRead = f }(mayRead)
	mayRead = func(name string) bool { return filepath.Base(name) != "a.yaml" }
	c := count(t)
	w, err := openWatch(func() (notifier, error) { return c, nil }, []string{r.root}, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	defer w.close()
	r.must(os.Chmod(r.path("a.yaml"), 0))
	until(t, "the right that is gone is told", func() bool { return len(w.changed) == 1 })
	r.must(os.Chmod(r.path("a.yaml"), 0o644))
}
