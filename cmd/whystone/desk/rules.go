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
	mu    sync.Mutex
	next  map[string]*next.Advice // by case and version
	short map[string]string       // verdicts in short, likewise

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
	b := &bench{first: judging.New(rs, nil, d.Now), next: map[string]*next.Advice{}, short: map[string]string{}}
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

// remember remembers the verdict that was shown of a version of a case, to say later what it was.
func (b *bench) remember(key, short string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.short) >= mostRemembered {
		clear(b.short)
	}
	b.short[key] = short
}

// remembered is the verdict that was shown of a version of a case; empty where that is not known any more.
func (b *bench) remembered(key string) string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.short[key]
}

// advise says what to test next. It takes fifty times as long as judging and is the same each time, so that it is
// remembered for a version of a case.
func (b *bench) advise(key string, t terminal.Told) *next.Advice {
	b.mu.Lock()
	known := b.next[key]
	b.mu.Unlock()
	if known != nil {
		return known
	}
	var a *next.Advice
	b.sit(func(s *seat) { a = s.adviser.Next(t.Case, t.Moment, next.Options{}) })
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.next) >= mostRemembered {
		clear(b.next)
	}
	b.next[key] = a
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
