package desk

import (
	"sync"

	"whystone/cmd/whystone/judging"
	"whystone/cmd/whystone/terminal"
	"whystone/engine/answers"
	"whystone/engine/next"
	"whystone/kb"
	"whystone/kb/casefile"
	"whystone/kb/diag"
	"whystone/kb/load"
	"whystone/kb/proofread"
	"whystone/kb/reload"
)

// Rules say which ruleset the desk follows.
type Rules struct {
	Layers  func() ([]load.Layer, error)
	Folders []string // of the layers that are folders
}

// bench is a ruleset prepared, with seats for those who work by it.
type bench struct {
	first *judging.Judging
	seats sync.Pool
	next  memory[*next.Advice] // by case and version
	short memory[string]       // verdicts in short that were shown, likewise, to say later what they were

	proofreading sync.Once
	found        *proofread.Report
}

// seat is for one who works by a ruleset: it uses its memory again.
type seat struct {
	*judging.Judging
	asker   *answers.Asker
	adviser *next.Adviser
}

func (d *Desk) newBench(rs *kb.Ruleset) *bench {
	b := &bench{first: judging.New(rs, nil, d.Now)}
	b.seats.New = func() any {
		return &seat{b.first.Another(), answers.New(b.first.Engine), next.New(b.first.Engine)}
	}
	return b
}

// sit gives somebody a seat.
func (b *bench) sit(do func(*seat)) {
	s := b.seats.Get().(*seat)
	defer b.seats.Put(s)
	do(s)
}

// judge judges a case.
func (b *bench) judge(c *casefile.Case) (t terminal.Told) {
	b.sit(func(s *seat) { t = s.Of(c) })
	return t
}

// mostRemembered bounds what is remembered of cases.
const mostRemembered = 500

// memory remembers something of cases.
type memory[T any] struct {
	mu   sync.Mutex
	held map[string]T
}

// get is what is remembered under a key; the zero value where that is nothing, or not known any more.
func (m *memory[T]) get(key string) T {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.held[key]
}

func (m *memory[T]) put(key string, x T) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.held == nil || len(m.held) >= mostRemembered {
		m.held = map[string]T{}
	}
	m.held[key] = x
}

// advise says what to test next. It takes fifty times as long as judging and is the same each time, so that it is
// remembered for a version of a case.
func (b *bench) advise(key string, t terminal.Told) *next.Advice {
	if known := b.next.get(key); known != nil {
		return known
	}
	var a *next.Advice
	b.sit(func(s *seat) { a = s.adviser.Next(t.Case, t.Moment, next.Options{}) })
	b.next.put(key, a)
	return a
}

// snapshot is one state of the ruleset's files.
type snapshot = reload.Snapshot[*bench]

// mostPast is how many rulesets of before are kept, to say of an open page what a change of rules changed.
const mostPast = 16

// followOptions say how the ruleset's files are followed.
func (d *Desk) followOptions() reload.Options[*bench] {
	return reload.Options[*bench]{Layers: d.Rules.Layers, Folders: d.Rules.Folders, Now: d.Now, Log: d.Log,
		Prepare: func(rs *kb.Ruleset) (*bench, diag.List) { return d.newBench(rs), nil },
		OnChange: func(old, now *snapshot) {
			d.past.add(old, mostPast, func(*snapshot) bool { return false })
			d.hub.tell(change{Kind: "rules"})
		},
		OnStatus: func(reload.Status) { d.hub.tell(change{Kind: "rules"}) }}
}
