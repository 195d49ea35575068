package replay

import (
	"context"
	"encoding/json"
	"runtime"
	"syscall"
	"testing"
	"time"
	"unsafe"

	"whystone/engine"
	"whystone/engine/archive"
	"whystone/kb/condition"
)

// stage is a part of the work on each block of an archive, with the shortest time that each block took in any turn: what
// else the machine does makes a turn longer, never shorter.
type stage struct {
	name  string
	least []time.Duration
}

// do does the work on a block, timed by its own thread.
func (s *stage) do(block int, work func()) {
	from := threadTime()
	work()
	took := threadTime() - from
	if block == len(s.least) {
		s.least = append(s.least, took)
	}
	s.least[block] = min(s.least[block], took)
}

// threadTime is how long the thread has had a processor: exactly, where rusage counts ticks.
func threadTime() time.Duration {
	const threadClock = 3 // CLOCK_THREAD_CPUTIME_ID
	var t syscall.Timespec
	_, _, _ = syscall.Syscall(syscall.SYS_CLOCK_GETTIME, threadClock, uintptr(unsafe.Pointer(&t)), 0)
	return time.Duration(t.Nano())
}

func (s *stage) sum() (all time.Duration) {
	for _, took := range s.least {
		all += took
	}
	return all
}

// BenchmarkStages tells what each stage of a replay takes by itself, as a part of what encoding/json takes for the same
// lines: what one worker does, stage by stage for a block.
func BenchmarkStages(b *testing.B) {
	e := loaded(b, nil)
	var raws []*archive.Raw
	if err := archive.Each(context.Background(), archive.Input{Paths: []string{archiveOf(b, e)}},
		func(r *archive.Raw) bool {
			raws = append(raws, r)
			return true
		}); err != nil {
		b.Fatal(err)
	}
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	decode, read, rules, decide, count := stage{name: "json"}, stage{name: "reading"}, stage{name: "rules"},
		stage{name: "deciding"}, stage{name: "counting"}
	for b.Loop() {
		c := Config{Engine: e, AsOf: asOf}
		w := newWorker(&c, c.memories())
		s, tally := w.old, newTally(false)
		for n := 0; n*condition.Lanes < len(raws); n++ {
			some := raws[n*condition.Lanes : min((n+1)*condition.Lanes, len(raws))]
			decode.do(n, func() {
				for _, r := range some {
					var m map[string]any
					if err := json.Unmarshal([]byte(r.Text), &m); err != nil {
						b.Fatal(err)
					}
				}
			})
			read.do(n, func() {
				for i, r := range some {
					s.take(r, &pending{raw: r, number: int64(i)}, 0, asOf)
				}
			})
			rules.do(n, func() {
				s.block.Run()
				s.cover(w.res.rules)
			})
			decide.do(n, func() {
				for lane := range s.block.Len() {
					s.judge.DecideLane(s.block, lane, &s.d)
				}
			})
			decisions := make([]engine.Decision, s.block.Len()) // the judge itself is at the last case
			for lane := range decisions {
				s.judge.DecideLane(s.block, lane, &decisions[lane])
			}
			count.do(n, func() {
				for lane := range decisions {
					c, on := s.block.Case(lane)
					s.d = decisions[lane]
					w.account(c, on, lane)
				}
				tally.add(w.Take(), e.Ruleset.Order)
			})
			s.block.Clear()
		}
	}
	b.ReportMetric(0, "ns/op")
	for _, s := range []*stage{&read, &rules, &decide, &count} {
		b.ReportMetric(float64(s.sum())/float64(decode.sum()), s.name+"-json")
		b.ReportMetric(float64(s.sum())/float64(len(raws)), s.name+"-ns/case")
	}
}
