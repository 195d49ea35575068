// Package reload keeps a ruleset in step with the files it was read from.
//
// Whoever judges asks for the current [Snapshot], which never changes once it is there. When files are edited the next
// one is made beside it: read, built and prepared to the end; only then one atomic pointer moves. Files that can't be
// used never take a good ruleset's place: the last good one goes on, and [Status] says since when and why.
//
// The state of an edit is owned by one goroutine. It goes through these stages:
//
//   - A notification says no more than "something changed", because what editors and deployment tools do to files differs
//     too much to be understood event by event. Folders are watched, never files: a watch on a file goes deaf at the first
//     save by rename.
//   - Changes are gathered until it is quiet for a while, but not for ever.
//   - All files are read and hashed. What is already running is left alone. What is new must read the same twice, and no
//     file may just have become empty, because a plain save passes through an empty file.
//   - Then the files are loaded, and the snapshot is swapped or the failure told.
//
// Notifications get lost: on network drives, when too many come at once, when a folder goes away. So the files are also
// hashed at regular intervals, and the watches are laid anew at each turn.
package reload

import (
	"cmp"
	"context"
	"log/slog"
	"slices"
	"sync/atomic"
	"time"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/load"
)

// Snapshot is one loaded state: a ruleset, what was prepared from it, and a number that rises by one with each. It
// never changes. Edits that leave the meaning alone (comments, file names) make a new snapshot too, so that places in
// files are right; its ruleset then has the same digest.
type Snapshot[T any] struct {
	Seq      int // from 1
	Ruleset  *kb.Ruleset
	Prepared T
	Loaded   time.Time
	Findings diag.List // warnings and notes of the load, sorted; no errors
}

// Status is the health of reloading.
type Status struct {
	Digest string    // of the running ruleset
	Loaded time.Time // when it was loaded
	Seq    int       // of its snapshot
	Stale  bool      // the files on disk are not what runs, because they can't be used
	Since  time.Time // when that began; zero when not stale
	Why    diag.List // what is wrong with the files, sorted; nil when not stale
}

// Options says what to follow and how. Layers is needed; all else may be left out.
type Options[T any] struct {
	// Layers gives the stack. It is called for each reading, so that a layer may appear or vanish.
	Layers func() ([]load.Layer, error)
	// Folders are the roots of the layers that are folders. They are watched with all folders below them, hidden ones
	// aside, and so is every name that could put another folder in a root's place: its own, and symbolic links on the
	// way.
	Folders []string
	// Prepare makes what is kept beside the ruleset. All that may fail belongs here: with an error in the list the
	// snapshot is not made and the last good one goes on.
	Prepare func(*kb.Ruleset) (T, diag.List)

	Quiet time.Duration // how long nothing must happen before files are read; 250 ms
	// how long changes are gathered at most; also how often a folder that is gone is looked for; 2 s
	Longest time.Duration
	Poll    time.Duration // how often files are read without any notification; 45 s

	Now func() time.Time // for the times shown; time.Now
	// OnChange is told of each snapshot after the first, when it is already the current one; OnStatus of each change of
	// the status. Both are called one at a time, by the goroutine that follows the files: they must not call Close.
	OnChange func(old, new *Snapshot[T])
	OnStatus func(Status)
	Log      *slog.Logger // discarded when nil
}

// Live is a ruleset that follows its files. Its methods are safe for concurrent use.
type Live[T any] struct {
	o      Options[T]
	open   opener
	state  atomic.Pointer[state[T]]
	cancel context.CancelFunc
	done   chan struct{}
	turn   turn // belongs to the goroutine of run
}

// state is what the one pointer points to, so that snapshot and status always belong together.
type state[T any] struct {
	snapshot *Snapshot[T]
	status   Status
}

// Start loads the ruleset and follows its files until the context ends or Close is called. If the first load fails the
// result is nil and the list says why; else the list holds the warnings of the load.
func Start[T any](ctx context.Context, o Options[T]) (*Live[T], diag.List) {
	return start(ctx, o, openNotifier)
}

func start[T any](ctx context.Context, o Options[T], open opener) (*Live[T], diag.List) {
	ctx, cancel := context.WithCancel(ctx)
	l := &Live[T]{o: o.filled(), open: open, cancel: cancel, done: make(chan struct{})}
	l.rewatch() // before the first reading, so that no edit falls between the two
	r := l.read(ctx)
	snapshot, out := l.build(r)
	if out.HasErrors() {
		cancel()
		l.turn.watch.close()
		return nil, out
	}
	snapshot.Seq = 1
	l.turn.running, l.turn.good, l.turn.settled = r.sum, r, r
	l.state.Store(&state[T]{snapshot, fresh(snapshot)})
	l.idle()
	go l.run(ctx)
	return l, snapshot.Findings
}

// filled returns the options with their defaults.
func (o Options[T]) filled() Options[T] {
	o.Quiet = cmp.Or(o.Quiet, 250*time.Millisecond)
	o.Longest = max(cmp.Or(o.Longest, 2*time.Second), o.Quiet)
	o.Poll = cmp.Or(o.Poll, 45*time.Second)
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Prepare == nil {
		o.Prepare = func(*kb.Ruleset) (none T, out diag.List) { return none, nil }
	}
	if o.OnChange == nil {
		o.OnChange = func(_, _ *Snapshot[T]) {}
	}
	if o.OnStatus == nil {
		o.OnStatus = func(Status) {}
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	return o
}

// fresh is the status of a snapshot that is what the files say.
func fresh[T any](s *Snapshot[T]) Status {
	return Status{Digest: s.Ruleset.Digest, Loaded: s.Loaded, Seq: s.Seq}
}

// Current returns the last good snapshot; never nil. Whoever takes several steps keeps the one it began with.
func (l *Live[T]) Current() *Snapshot[T] { return l.state.Load().snapshot }

// Status returns the health of reloading.
func (l *Live[T]) Status() Status {
	s := l.state.Load().status
	s.Why = slices.Clone(s.Why)
	return s
}

// Close stops following and waits for the goroutine to end. What was loaded stays usable. It may be called more than
// once, and never fails.
func (l *Live[T]) Close() error {
	l.cancel()
	<-l.done
	return nil
}
