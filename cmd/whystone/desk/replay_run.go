package desk

import (
	"context"
	"errors"
	"sync"
	"time"

	"whystone/engine/replay"
)

// mostReports is how many reports are kept.
const mostReports = 8

// replaying is a replay that somebody started.
type replaying struct {
	Number  int
	By      string
	Begun   time.Time
	Of      string // what is judged again, in words
	With    string // which two rulesets are compared, in words; empty: none are
	Kept    bool   // its cases are the casebook's
	Workers int

	config replay.Config
	gate   []replay.Condition
	done   func(cases int64) float64 // which part of all that is
	cancel context.CancelFunc

	mu sync.Mutex
	at standing
}

// standing is how far a replay is.
type standing struct {
	Cases   int64
	Percent int
	Ended   bool
	Stopped bool         // by somebody, or by what Wrong says
	Wrong   string       // what kept it from going on
	Report  *replay.Page // once it has ended
}

// At is how far it is.
func (r *replaying) At() standing {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.at
}

func (r *replaying) set(do func(*standing)) {
	r.mu.Lock()
	defer r.mu.Unlock()
	do(&r.at)
}

// tellEvery is how often open pages hear how far a replay is.
const tellEvery = 400 * time.Millisecond

// start gives a replay its number and sets it to work, unless another is at work: that one comes back then. It goes on
// when the page is left, and ends with the desk.
func (d *Desk) start(r *replaying) (busy *replaying) {
	ctx, cancel := context.WithCancel(d.lasts)
	r.cancel = cancel
	if busy = d.replays.add(r, mostReports, func(last *replaying) bool {
		if last != nil {
			r.Number = last.Number
		}
		r.Number++
		return last != nil && !last.At().Ended
	}); busy != nil {
		cancel()
		return busy
	}
	var told time.Time
	r.config.Progress = func(cases int64) {
		percent := min(int(100*r.done(cases)), 99)
		r.set(func(s *standing) { s.Cases, s.Percent = cases, percent })
		if time.Since(told) >= tellEvery {
			told = time.Now()
			d.hub.tell(change{Kind: "replay"})
		}
		if d.onReplay != nil {
			d.onReplay(ctx)
		}
	}
	d.work.Go(func() {
		defer cancel()
		r.run(ctx)
		d.hub.tell(change{Kind: "replay"})
	})
	return nil
}

// run replays. What was counted when it is broken off is a report all the same, which says so.
func (r *replaying) run(ctx context.Context) {
	part, err := replay.Run(ctx, r.config)
	page := &replay.Page{Part: part}
	if r.gate != nil {
		page.Conditions = r.config.Against.Ruleset.Policy.Gate
		page.Gate, _ = replay.CheckGate(r.gate, part)
	}
	stopped := errors.Is(err, context.Canceled)
	if err == nil && !r.Kept && r.config.Against != nil {
		page.Differences, err = replay.Differences(ctx, r.config, part.Tally.Lists[replay.Changed], mostDifferences)
	}
	r.set(func(s *standing) {
		s.Ended, s.Report, s.Cases, s.Stopped = true, page, part.Tally.Records, err != nil
		if err != nil && !stopped {
			s.Wrong = err.Error()
		}
	})
}

// mostDifferences is how many cases that change are shown with both chains.
const mostDifferences = 10
