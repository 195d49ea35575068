package reload

import (
	"context"
	"slices"
	"time"
)

// turn is the pending state of one turn: from the first change until files were loaded or found to be unchanged.
type turn struct {
	watch   *watch
	relay   bool // something changed since the watches were laid: folders may have come or gone
	trouble bool // not everything could be watched or read: look again soon

	began time.Time // the first change; zero between turns
	due   time.Time // when to read next
	last  *reading  // the reading to compare the next with; nil at the start of a turn

	running string   // the sum of what runs
	good    *reading // that it was loaded from
	settled *reading // the last one that was loaded or failed to
}

// run follows the files until the context ends. It alone touches l.turn.
func (l *Live[T]) run(ctx context.Context) {
	defer close(l.done)
	defer func() { l.turn.watch.close() }()
	timer := time.NewTimer(time.Until(l.turn.due))
	defer timer.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-l.turn.watch.signal():
			l.gather()
		case <-timer.C:
			l.look(ctx)
		}
		timer.Reset(time.Until(l.turn.due))
	}
}

// pause is the time between two readings that must agree.
func (l *Live[T]) pause() time.Duration { return max(l.o.Quiet/5, time.Millisecond) }

// gather puts the next reading off until it is quiet, and not for ever.
func (l *Live[T]) gather() {
	t, now := &l.turn, time.Now()
	if t.began.IsZero() {
		t.began = now
	}
	t.relay = true
	t.due = slices.MinFunc([]time.Time{now.Add(l.o.Quiet), t.began.Add(l.o.Longest)}, time.Time.Compare)
	if t.last != nil { // it was time already: read on, at a measured pace
		t.due = slices.MaxFunc([]time.Time{t.due, t.last.at.Add(l.pause())}, time.Time.Compare)
	}
}

// look reads the files and decides: nothing new, not yet at rest, or load.
func (l *Live[T]) look(ctx context.Context) {
	t := &l.turn
	polled := t.began.IsZero()
	if polled {
		t.began = time.Now()
	}
	if polled || t.relay {
		l.rewatch()
	}
	r := l.read(ctx)
	if ctx.Err() != nil {
		return
	}
	previous := t.last
	t.last = r
	switch {
	case r.sum == t.running:
		t.settled = r
		l.mended()
	case r.sum == t.settled.sum: // failed before, and its failure is told
	case !l.atRest(previous, r):
		t.due = r.at.Add(l.pause())
		return
	default:
		t.settled = r
		l.load(r)
	}
	l.idle()
}

// atRest tells whether a reading may be loaded: it repeats the one before and no file has just become empty, or waiting
// for that has taken long enough.
func (l *Live[T]) atRest(previous, r *reading) bool {
	if r.at.Sub(l.turn.began) > l.o.Longest+l.o.Quiet {
		return true
	}
	return previous != nil && previous.sum == r.sum && !r.emptied(l.turn.settled)
}

// idle ends a turn.
func (l *Live[T]) idle() {
	t := &l.turn
	t.began, t.last = time.Time{}, nil
	wait := l.o.Poll
	if t.trouble || t.settled.unreadable() {
		wait = min(wait, l.o.Longest)
	}
	t.due = time.Now().Add(wait)
}

// rewatch lays all watches anew and gives the old ones up: cheaper than to know which went deaf, and the same whether a
// folder came, went, was renamed, or notifications were lost. If none can be laid the old ones stay.
func (l *Live[T]) rewatch() {
	t := &l.turn
	w, err := openWatch(l.open, l.o.Folders, l.o.Log)
	if err != nil && !t.trouble {
		l.o.Log.Warn("the ruleset's folders can't all be watched; they are looked at instead", "every",
			min(l.o.Longest, l.o.Poll), "error", err)
	}
	t.trouble = err != nil
	if w == nil {
		return
	}
	t.watch.close()
	t.watch, t.relay = w, false
}
