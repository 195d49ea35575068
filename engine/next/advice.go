package next

import (
	"time"

	"whystone/engine"
	"whystone/engine/answers/wording"
	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/english"
)

// Action is what an advice says to do.
type Action string

// The actions.
const (
	Test       Action = "test"       // do the first of the tests
	Repeat     Action = "repeat"     // the readings contradict each other: repeat the most doubtful
	Stop       Action = "stop"       // nothing in the house can change this, or is needed
	Laboratory Action = "laboratory" // the house can't settle it, or a rule sends it on
)

// Advice is what to do next with a stone.
type Advice struct {
	Format  int            `json:"format"`
	Case    string         `json:"case"`
	Ruleset string         `json:"ruleset"`
	Method  int            `json:"method"`
	AsOf    string         `json:"as_of"`
	Now     wording.Result `json:"now"`
	Action  Action         `json:"action"`
	phrase.Told
	Because []string `json:"because"`
	// Entropy over the materials and what is unlisted, in nats, and the loss that the house has to expect, in its
	// currency, as things stand.
	Entropy    float64       `json:"entropy"`
	Loss       float64       `json:"loss"`
	Currency   string        `json:"currency"`
	Tests      []Suggestion  `json:"tests"` // best first
	Repeat     []RepeatFirst `json:"repeat"`
	Harmful    []NotDone     `json:"harmful"`
	Infeasible []NotDone     `json:"infeasible"`
	Forbidden  []NotDone     `json:"forbidden"`
}

// RepeatFirst is a set of readings whose repetition would resolve a contradiction.
type RepeatFirst struct {
	Readings []string `json:"readings"`
	phrase.Told
}

// NotDone is a test that is not suggested, with the reason.
type NotDone struct {
	Test string `json:"test"`
	Name string `json:"name"`
	phrase.Told
	Rule string   `json:"rule,omitempty"`
	Need []string `json:"needs,omitempty"`
}

// Suggestion is a test that can be done, with what it is expected to bring: the figures are those of its best look.
type Suggestion struct {
	Test string `json:"test"`
	Name string `json:"name"`
	Says string `json:"says"`
	// Reasons are what Says tells, one after another, as data too.
	Reasons []phrase.Told `json:"reasons"`
	Minutes float64       `json:"minutes"`
	Again   bool          `json:"again"` // its best look was read before
	// EntropyDrop is the expected fall of the entropy in nats; TellsNothing that it falls by next to nothing, or rises.
	EntropyDrop   float64    `json:"entropy_drop"`
	TellsNothing  bool       `json:"tells_nothing"`
	LossReduction float64    `json:"loss_reduction"` // expected, in the policy's currency, minutes not counted
	Net           float64    `json:"net"`            // the same less the minutes' cost
	Further       float64    `json:"further"`        // how likely it brings the verdict further, from 0 to 1
	Verdicts      Verdicts   `json:"verdicts"`
	Splits        [][]string `json:"splits"` // the likeliest candidates in groups that it parts; empty: it parts none
	Looks         []Look     `json:"looks"`  // what to look at, best first; the outcomes are of the first
	Outcomes      []LeadsTo  `json:"outcomes"`
	// the best to do after it, where no single test brings the verdict further
	Then      *Then       `json:"then"`
	CalledFor []CalledFor `json:"called_for"` // rules that ask for it
	Asks      []string    `json:"asks"`       // what it needs and the case does not say
	Cautions  []string    `json:"cautions"`

	reasons []phrase.Reason
}

// Verdicts is how likely each kind of verdict is after the test, from 0 to 1; together they make 1.
type Verdicts struct {
	Identified    float64 `json:"identified"`
	Narrowed      float64 `json:"narrowed"`
	Inconclusive  float64 `json:"inconclusive"`
	Contradictory float64 `json:"contradictory"`
}

// Look is one thing that a test can be asked.
type Look struct {
	Observable    string  `json:"observable"`
	Feature       string  `json:"feature,omitempty"`
	Again         bool    `json:"again"`
	EntropyDrop   float64 `json:"entropy_drop"`
	LossReduction float64 `json:"loss_reduction"`
}

// LeadsTo is what an outcome would lead to.
type LeadsTo struct {
	Outcome    string         `json:"outcome"`
	Likelihood float64        `json:"likelihood"` // from 0 to 1, from the weights of the case
	To         wording.Result `json:"to"`
	Entropy    float64        `json:"entropy"` // nats
	SentOn     bool           `json:"sent_on"`
	Unclear    bool           `json:"unclear,omitempty"` // it stays inconclusive
	// Mostly tells that not every reading of a stretch leads there, or that not all were tried.
	Mostly bool `json:"mostly"`
	// Cautions are those that would stand under the verdict then, and don't now.
	Cautions []Caution `json:"cautions"`

	cautions []int
}

// Caution is one that would stand under a verdict.
type Caution struct {
	Rule  string `json:"rule"`
	Says  string `json:"says"`
	Alone bool   `json:"alone"` // it is about what the test reads, and about nothing else
}

// Then is a second test, and what both are expected to bring together.
type Then struct {
	Test          string  `json:"test"`
	Name          string  `json:"name"`
	EntropyDrop   float64 `json:"entropy_drop"`
	LossReduction float64 `json:"loss_reduction"`
	Further       float64 `json:"further"`
}

// CalledFor is a rule that asks for a test.
type CalledFor struct {
	Rule string `json:"rule"`
	Says string `json:"says"`
}

// advice puts everything together; found is sorted.
func (b *bench) advice(m engine.Moment, found []suggestion) *Advice {
	rs := b.e.Ruleset
	a := &Advice{Format: 1, Case: b.c.ID, Ruleset: rs.Digest, Method: rs.Method, AsOf: m.On.Format(time.RFC3339),
		Now: b.base.result, Entropy: b.base.entropy, Loss: b.base.loss, Currency: rs.Policy.Currency,
		Because: []string{}, Tests: []Suggestion{}, Repeat: []RepeatFirst{}, Harmful: []NotDone{},
		Infeasible: []NotDone{}, Forbidden: []NotDone{}}
	for i := range found {
		a.Tests = append(a.Tests, b.told(&found[i]))
	}
	b.notDone(a)
	b.act(m.On, a, found)
	return a
}

func (b *bench) told(s *suggestion) Suggestion {
	f := s.best()
	parts := b.splits(f)
	calls := english.Each(b.calls[s.test.ID], func(r *kb.Rule) CalledFor { return CalledFor{r.ID, r.Says} })
	out := Suggestion{Test: s.test.ID, Name: s.test.Name, Minutes: s.test.Minutes, Again: f.look.again,
		EntropyDrop: f.drop, TellsNothing: !f.tells(&b.cost), LossReduction: f.reduction,
		Net: f.reduction - b.cost.perMinute*s.test.Minutes, Further: f.better,
		Verdicts: Verdicts{Identified: f.classes[engine.Identified], Narrowed: f.classes[engine.Narrowed],
			Inconclusive: f.classes[engine.Inconclusive], Contradictory: f.classes[engine.Contradictory]},
		Splits: ids(parts), Looks: english.Each(s.looks, lookTold), Outcomes: s.leads,
		CalledFor: orNone(calls),
		Asks:      orNone(b.needs[s.test].Unknown), Cautions: orNone(s.test.Cautions)}
	if t := s.then; t != nil {
		out.Then = &Then{Test: t.second.ID, Name: t.second.Name, EntropyDrop: t.drop, LossReduction: t.reduction,
			Further: t.better}
	}
	out.reasons = b.suggested(s, &out, parts)
	out.Says = phrase.Sentences(out.reasons)
	out.Reasons = english.Each(out.reasons, phrase.Reason.Told)
	return out
}

func lookTold(f figures) Look {
	o := f.look.source.Observable
	l := Look{Observable: o.Name, Again: f.look.again, EntropyDrop: f.drop, LossReduction: f.reduction}
	if f.look.feature >= 0 {
		l.Feature = o.Outcomes[f.look.feature].Name
	}
	return l
}

// orNone is a list that is written as [] when there is nothing in it.
func orNone[T any](list []T) []T { return append([]T{}, list...) }
