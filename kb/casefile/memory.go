package casefile

import (
	"strings"
	"sync"
	"sync/atomic"

	"whystone/kb/vocab"
)

// Memory is what the values of readings were read as, for all skimmers of one ruleset: each value is read by one of them,
// once, and its readings bear numbers that are the memory's. A skimmer asks it only for what it has not met itself. Safe
// for concurrent use.
type Memory struct {
	mu       sync.RWMutex
	said     map[written]*Said
	numbered int
	left     *atomic.Int64 // bytes
	each     int           // how many a reading takes
	full     atomic.Bool   // for good: nothing is written any more, and who reads need not wait
}

// written is a value as it was written.
type written struct {
	of    *vocab.Observable
	plain bool
	raw   string
}

// NewMemory makes one of about so many bytes, of which a reading takes so many each, with all that is remembered of what
// follows from it.
func NewMemory(bytes, each int) *Memory {
	left := new(atomic.Int64)
	left.Store(int64(bytes))
	return (&Memory{left: left}).Beside(each)
}

// Beside makes one of another ruleset, which takes its bytes from those that are left of this one's.
func (y *Memory) Beside(each int) *Memory {
	return &Memory{said: map[written]*Said{}, left: y.left, each: each}
}

// find is what a value was read as, if it is remembered.
func (y *Memory) find(o *vocab.Observable, v Member) *Said {
	if !y.full.Load() {
		y.mu.RLock()
		defer y.mu.RUnlock()
	}
	return y.said[written{o, v.Plain, v.Raw}]
}

// keep remembers what a value was read as: readings, which are copied, and else what said has. It gives that with its
// readings numbered; or said itself when there is no room. What somebody else remembered meanwhile is what counts.
func (y *Memory) keep(o *vocab.Observable, v Member, said *Said, readings []*Reading) *Said {
	if y.full.Load() {
		return said
	}
	y.mu.Lock()
	defer y.mu.Unlock()
	if was := y.said[written{o, v.Plain, v.Raw}]; was != nil {
		return was
	}
	if !y.take(2*len(v.Raw) + y.each*max(1, len(parts(readings)))) {
		return said
	}
	own := *said
	own.raw, own.readings = strings.Clone(v.Raw), make([]*Reading, len(readings))
	for i, r := range readings {
		kept := *r
		own.readings[i] = &kept
	}
	y.number(&own)
	y.said[written{o, v.Plain, own.raw}] = &own
	return &own
}

func (y *Memory) number(v *Said) {
	for _, r := range v.readings {
		y.numbered++
		r.Known = y.numbered
	}
}

// take takes room, if there is as much. The first time that there is not, the memory is full.
func (y *Memory) take(bytes int) bool {
	switch {
	case y.full.Load():
		return false
	case y.left.Add(int64(-bytes)) >= 0:
		return true
	}
	y.left.Add(int64(bytes))
	y.full.Store(true)
	return false
}

// alone numbers the readings of a value that nobody looks up.
func (y *Memory) alone(v *Said) {
	y.mu.Lock()
	defer y.mu.Unlock()
	if y.take(y.each * len(v.readings)) {
		y.number(v)
	}
}

// room takes room for a reading that somebody else keeps, if there is any.
func (y *Memory) room() bool {
	if y.full.Load() {
		return false
	}
	y.mu.Lock()
	defer y.mu.Unlock()
	return y.take(y.each)
}
