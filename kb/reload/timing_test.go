package reload

import (
	"fmt"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/fsnotify/fsnotify"

	"whystone/kb"
	"whystone/kb/diag"
)

// These tests run on the clock of testing/synctest, which stands still while anything runs: times are exact, and an
// hour passes at once. The options are the defaults.

// stopwatch is a rig whose notifications the test sends, and that notes when files were read.
type stopwatch struct {
	*rig
	t    *testing.T
	f    *fake
	from time.Time

	mu    sync.Mutex
	notes []time.Duration // of each reading after the first load
	step  func()          // called before each
}

// timed runs a test on a rig, from just after its first load.
func timed(t *testing.T, o Options[*prepared], test func(*stopwatch)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		s := &stopwatch{rig: newRig(t), t: t, step: func() {}}
		s.onRead = func() {
			s.mu.Lock()
			defer s.mu.Unlock()
			s.notes = append(s.notes, time.Since(s.from))
			s.step()
		}
		s.start(o, func() (notifier, error) { s.f = newFake(); return s.f, nil })
		synctest.Wait()
		s.mu.Lock()
		s.from, s.notes = time.Now(), nil
		s.mu.Unlock()
		test(s)
	})
}

// each does something before each reading from now on.
func (s *stopwatch) each(step func()) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.step = step
}

// at goes on to a time since the start and lets everything come to rest.
func (s *stopwatch) at(when time.Duration) {
	time.Sleep(when - time.Since(s.from))
	synctest.Wait()
}

// event tells of something that happened to a.yaml.
func (s *stopwatch) event(op fsnotify.Op) {
	s.f.events <- fsnotify.Event{Name: s.path("a.yaml"), Op: op}
	synctest.Wait()
}

// readAt checks when files were read so far.
func (s *stopwatch) readAt(want ...time.Duration) {
	s.t.Helper()
	s.mu.Lock()
	defer s.mu.Unlock()
	if !slices.Equal(s.notes, want) {
		s.t.Errorf("read at %v, want %v", s.notes, want)
	}
}

const ms = time.Millisecond

func TestFilesAreReadWhenItIsQuiet(t *testing.T) {
	timed(t, Options[*prepared]{}, func(s *stopwatch) {
		s.write("a.yaml", rule("a", "second"))
		for _, when := range []time.Duration{0, 100 * ms, 340 * ms} {
			s.at(when)
			s.event(fsnotify.Write)
		}
		s.at(589 * ms)
		s.readAt()
		s.at(639 * ms)
		s.readAt(590 * ms) // and again, to see that nothing moves
		if s.Current().Seq != 1 {
			s.t.Error("loaded after one reading")
		}
		s.at(640 * ms)
		s.readAt(590*ms, 640*ms)
		if s.Current().Prepared.says != "a=second" {
			s.t.Error("not live")
		}
	})
}

func TestGatheringEnds(t *testing.T) {
	timed(t, Options[*prepared]{}, func(s *stopwatch) {
		n := 0
		s.each(func() { n++; s.write("a.yaml", rule("a", fmt.Sprint("version ", n))) }) // never the same twice
		for when := 5 * ms; when < 2310*ms; when += 10 * ms {
			s.at(when)
			s.event(fsnotify.Write)
		}
		// 2 s after the first event, then every 50 ms; after 250 ms of that what is there is loaded.
		s.readAt(2005*ms, 2055*ms, 2105*ms, 2155*ms, 2205*ms, 2255*ms, 2305*ms)
		if got := s.loads(); !slices.Equal(got, []string{"a=version 7"}) {
			s.t.Errorf("loads %q", got)
		}
	})
}

func TestAttributesAloneReadNothing(t *testing.T) {
	timed(t, Options[*prepared]{}, func(s *stopwatch) {
		s.event(fsnotify.Chmod)
		s.at(44 * time.Second)
		s.readAt()
		s.event(fsnotify.Chmod | fsnotify.Write)
		s.at(44*time.Second + 250*ms)
		s.readAt(44*time.Second + 250*ms)
	})
}

func TestFilesAreReadWithoutNotification(t *testing.T) {
	timed(t, Options[*prepared]{}, func(s *stopwatch) {
		s.at(100 * time.Second)
		s.readAt(45*time.Second, 90*time.Second)
	})
}

func TestWhatIsGoneIsLookedForSoon(t *testing.T) {
	timed(t, Options[*prepared]{}, func(s *stopwatch) {
		s.remove("a.yaml")
		s.event(fsnotify.Remove)
		s.at(300 * ms)
		s.readAt(250*ms, 300*ms)
		if !s.Status().Stale {
			s.t.Error("not stale")
		}
		s.at(4300 * ms)
		s.readAt(250*ms, 300*ms, 2300*ms, 4300*ms)
		s.write("a.yaml", rule("a", "first"))
		s.at(6300 * ms)
		if s.Status().Stale {
			s.t.Error("still stale")
		}
	})
}

// TestMovingFilesAreNotLoaded reads a file three times while it grows, each time whole by itself.
func TestMovingFilesAreNotLoaded(t *testing.T) {
	timed(t, Options[*prepared]{}, func(s *stopwatch) {
		steps := []string{"one part", "two parts", "all parts"}
		s.each(func() {
			if len(steps) > 0 {
				s.write("a.yaml", rule("a", steps[0]))
				steps = steps[1:]
			}
		})
		s.event(fsnotify.Write)
		s.at(10 * time.Second)
		if got := s.loads(); !slices.Equal(got, []string{"a=all parts"}) {
			s.t.Errorf("loads %q", got)
		}
	})
}

func TestCloseWaits(t *testing.T) {
	var ended time.Time
	o := Options[*prepared]{Prepare: func(rs *kb.Ruleset) (*prepared, diag.List) {
		time.Sleep(time.Minute)
		ended = time.Now()
		return prepare(rs)
	}}
	timed(t, o, func(s *stopwatch) {
		s.write("a.yaml", rule("a", "second"))
		s.event(fsnotify.Write)
		s.at(time.Second) // Prepare is at work
		s.Close()
		if !ended.Equal(time.Now()) || time.Since(s.from) < time.Minute {
			s.t.Errorf("Close returned after %v, the load ended %v before", time.Since(s.from), time.Since(ended))
		}
	})
}
