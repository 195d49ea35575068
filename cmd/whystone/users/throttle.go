package users

import (
	"sync"
	"time"
)

// throttle slows down who tries passwords: after some failures each further one makes the wait twice as long.
type throttle struct {
	mu    sync.Mutex
	tried map[string]*tries
}

// tries are the failures under one key.
type tries struct {
	failed int
	last   time.Time
}

const (
	freeTries   = 5  // of one name from one place
	freeOfPlace = 30 // of all names from one place
	firstWait   = 2 * time.Second
	longestWait = 5 * time.Minute
	forgotten   = 30 * time.Minute // after that a failure no longer counts
	mostKeys    = 10000
)

// wait is how long nothing more may be tried under a key.
func (t *throttle) wait(key string, free int, now time.Time) time.Duration {
	t.mu.Lock()
	defer t.mu.Unlock()
	x := t.tried[key]
	if x == nil || x.failed < free || now.Sub(x.last) > forgotten {
		return 0
	}
	need := longestWait
	if doubled := x.failed - free; doubled < 8 {
		need = min(firstWait<<doubled, longestWait)
	}
	return max(need-now.Sub(x.last), 0)
}

// fail counts a failure.
func (t *throttle) fail(key string, now time.Time) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.tried == nil {
		t.tried = map[string]*tries{}
	}
	if len(t.tried) >= mostKeys {
		t.forget(now)
	}
	x := t.tried[key]
	if x == nil || now.Sub(x.last) > forgotten {
		x = &tries{}
		t.tried[key] = x
	}
	x.failed++
	x.last = now
}

// forget makes room: of what is old, and if that is not enough, of everything.
func (t *throttle) forget(now time.Time) {
	for key, x := range t.tried {
		if now.Sub(x.last) > forgotten {
			delete(t.tried, key)
		}
	}
	if len(t.tried) >= mostKeys {
		clear(t.tried)
	}
}

// clear forgets the failures under a key.
func (t *throttle) clear(key string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	delete(t.tried, key)
}
