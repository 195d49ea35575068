package replay

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math/big"
	"slices"
	"strings"

	"whystone/engine/stats"
)

// Tally is what a replay counts. Every figure is a sum that does not depend on its order, so that the work of many
// processors, of an interrupted and resumed run, or of several machines adds up to the same bytes.
type Tally struct {
	Records  int64            `json:"records"`
	Judged   int64            `json:"judged"`
	Undated  int64            `json:"undated"`           // judged as of the replay's own date
	Unusual  int64            `json:"unusual,omitempty"` // read or judged one by one, as something in them is unusual
	Verdicts map[string]int64 `json:"verdicts"`
	// Confusion counts cases whose truth is known: the truth's topmost nameable node, then what was said.
	Confusion map[string]map[string]int64 `json:"confusion"`
	// ClaimAnswers counts claims whose truth is known: the claim's word, then whether it was true and what was
	// answered.
	ClaimAnswers map[string]map[string]int64 `json:"claim_answers"`
	// Claims counts by the claim's word; words that the ruleset doesn't know are one.
	Claims   map[string]*Answers         `json:"claims"`
	Desks    map[string]*Answers         `json:"desks"`
	Months   map[string]*Answers         `json:"months"`
	Tools    map[string]*Answers         `json:"instruments"`
	All      Answers                     `json:"all"`
	Recorded map[string]map[string]int64 `json:"recorded"` // the verdict as recorded, then as judged now
	// OtherMethod counts cases recorded by another method of the arithmetic: judged anew, and compared with nothing.
	OtherMethod map[string]int64     `json:"other_method"`
	Faults      map[string]int64     `json:"faults"` // cases in which a rule could not be evaluated
	Rules       map[string]*Coverage `json:"rules"`
	Behind      map[string]int64     `json:"behind_errors"` // rules and readings of cases judged wrongly
	Scores      stats.Scores         `json:"scores"`
	Reliability stats.Reliability    `json:"reliability"`
	Pair        *Pair                `json:"pair,omitempty"`
	Pinned      map[string]*Pin      `json:"pinned,omitempty"`
	Lists       map[string]*List     `json:"lists"`
}

// Pin is what became of a case that must not change.
type Pin struct {
	Why     string `json:"why"`
	Seen    int64  `json:"seen"` // how often the archive has it
	Changed int64  `json:"changed"`
	Says    string `json:"says,omitempty"` // of the first change
}

func (p *Pin) saw(says string) {
	p.Seen++
	if says != "" {
		p.Changed, p.Says = p.Changed+1, cmp.Or(p.Says, says)
	}
}

func (t *Tally) pin(cases map[string]string) {
	for id, why := range cases {
		entry(t.Pinned, id).Why = why
	}
}

// Answers counts answers to claims, and names, against what was true.
type Answers struct {
	Cases         int64 `json:"cases"`
	Known         int64 `json:"known"`          // truth known
	Imitations    int64 `json:"imitations"`     // truth known, and not what was claimed
	TrueClaims    int64 `json:"true_claims"`    // truth known, and as claimed, or of the material claimed
	FalseAccepted int64 `json:"false_accepted"` // an imitation whose claim, or the material claimed, stands
	FalseRefused  int64 `json:"false_refused"`  // a true claim that falls, or a material truly claimed
	Open          int64 `json:"open"`
	Claimed       int64 `json:"claimed"`
	Named         int64 `json:"named"` // truth known, and a name given
	NamedWrongly  int64 `json:"named_wrongly"`
}

func (a *Answers) merge(o *Answers) {
	a.Cases += o.Cases
	a.Known += o.Known
	a.Imitations += o.Imitations
	a.TrueClaims += o.TrueClaims
	a.FalseAccepted += o.FalseAccepted
	a.FalseRefused += o.FalseRefused
	a.Open += o.Open
	a.Claimed += o.Claimed
	a.Named += o.Named
	a.NamedWrongly += o.NamedWrongly
}

// Coverage counts what came of a rule.
type Coverage struct {
	Holds     int64 `json:"holds"`
	Fails     int64 `json:"fails"`
	Undecided int64 `json:"undecided"`
}

func (c *Coverage) merge(o *Coverage) {
	c.Holds, c.Fails, c.Undecided = c.Holds+o.Holds, c.Fails+o.Fails, c.Undecided+o.Undecided
}

// Pair compares two rulesets on the same cases.
type Pair struct {
	Verdicts map[string]map[string]int64 `json:"verdicts"` // from, to
	Answers  map[string]map[string]int64 `json:"answers"`
	// New, Scores and Reliability are by the new ruleset what the Tally has by the old one.
	New         Answers           `json:"new"`
	Scores      stats.Scores      `json:"scores"`
	Reliability stats.Reliability `json:"reliability"`
	// WrongToRight and RightToWrong count the discordant cases: wrong is a false acceptance, a false refusal or a
	// wrong name.
	WrongToRight int64 `json:"wrong_to_right"`
	RightToWrong int64 `json:"right_to_wrong"`
	Known        int64 `json:"known"`   // cases whose truth both rulesets know
	Changed      int64 `json:"changed"` // another verdict, name or answer
	Moved        int64 `json:"moved"`   // the same, but the share moved by more than the threshold
}

// List is a list of cases: how many, a hash of all, and the first of them.
type List struct {
	Count  int64   `json:"count"`
	Hash   string  `json:"hash"` // the sum of the entries' SHA-256, so that it does not depend on their order
	Sample []Entry `json:"sample,omitempty"`
}

// Entry is one case of a list.
type Entry struct {
	Number int64  `json:"number"` // of the record, from 1, in the order of the archives
	Place  string `json:"place"`
	Case   string `json:"case"`
	Says   string `json:"says"`
}

// sampleSize is how many entries of a list are kept.
const sampleSize = 200

func newTally(pair bool) *Tally {
	t := &Tally{Verdicts: map[string]int64{}, Confusion: map[string]map[string]int64{}, Claims: map[string]*Answers{},
		Desks: map[string]*Answers{}, Months: map[string]*Answers{}, Tools: map[string]*Answers{},
		Recorded: map[string]map[string]int64{}, OtherMethod: map[string]int64{}, Faults: map[string]int64{},
		Rules: map[string]*Coverage{}, Behind: map[string]int64{}, Pinned: map[string]*Pin{},
		ClaimAnswers: map[string]map[string]int64{}, Lists: map[string]*List{}}
	if pair {
		t.Pair = &Pair{Verdicts: map[string]map[string]int64{}, Answers: map[string]map[string]int64{}}
	}
	return t
}

// merge adds a later part.
func (t *Tally) merge(o *Tally) {
	t.Records, t.Judged, t.Undated = t.Records+o.Records, t.Judged+o.Judged, t.Undated+o.Undated
	t.Unusual += o.Unusual
	addCounts(t.Verdicts, o.Verdicts)
	addTable(t.Confusion, o.Confusion)
	addTable(t.ClaimAnswers, o.ClaimAnswers)
	addTable(t.Recorded, o.Recorded)
	addCounts(t.OtherMethod, o.OtherMethod)
	addCounts(t.Faults, o.Faults)
	addCounts(t.Behind, o.Behind)
	for _, m := range []struct{ to, from map[string]*Answers }{{t.Claims, o.Claims}, {t.Desks, o.Desks},
		{t.Months, o.Months}, {t.Tools, o.Tools}} {
		for k, a := range m.from {
			entry(m.to, k).merge(a)
		}
	}
	t.fold()
	t.All.merge(&o.All)
	for k, c := range o.Rules {
		entry(t.Rules, k).merge(c)
	}
	t.Scores.Merge(o.Scores)
	t.Reliability.Merge(&o.Reliability)
	if o.Pair != nil && t.Pair != nil {
		addTable(t.Pair.Verdicts, o.Pair.Verdicts)
		addTable(t.Pair.Answers, o.Pair.Answers)
		t.Pair.New.merge(&o.Pair.New)
		t.Pair.Scores.Merge(o.Pair.Scores)
		t.Pair.Reliability.Merge(&o.Pair.Reliability)
		t.Pair.WrongToRight += o.Pair.WrongToRight
		t.Pair.RightToWrong += o.Pair.RightToWrong
		t.Pair.Known += o.Pair.Known
		t.Pair.Changed += o.Pair.Changed
		t.Pair.Moved += o.Pair.Moved
	}
	t.single(o.Pinned, o.Lists)
}

// single adds what became of single cases.
func (t *Tally) single(pinned map[string]*Pin, lists map[string]*List) {
	for k, p := range pinned {
		to := entry(t.Pinned, k)
		to.Why, to.Says = cmp.Or(to.Why, p.Why), cmp.Or(to.Says, p.Says)
		to.Seen, to.Changed = to.Seen+p.Seen, to.Changed+p.Changed
	}
	for k, l := range lists {
		entry(t.Lists, k).merge(l)
	}
}

// mostNames is how many desks, months and so on are counted each by itself; people see a few of them.
const mostNames = 1000

// FurtherNames is where the rest is counted.
const FurtherNames = "(further names)"

// fold keeps the first names in their order, and counts the rest as one. A name that is among the first of all is among
// the first of each part too, so that parts add up to the same as the whole.
func (t *Tally) fold() {
	for _, m := range []map[string]*Answers{t.Claims, t.Desks, t.Months, t.Tools} {
		if len(m) <= mostNames {
			continue
		}
		names := slices.DeleteFunc(Sorted(m), func(k string) bool { return k == FurtherNames })
		for _, k := range names[mostNames:] {
			entry(m, FurtherNames).merge(m[k])
			delete(m, k)
		}
	}
}

func entry[V any](m map[string]*V, key string) *V {
	v := m[key]
	if v == nil {
		v = new(V)
		m[key] = v
	}
	return v
}

func addCounts(to, from map[string]int64) {
	for k, n := range from {
		to[k] += n
	}
}

func count(table map[string]map[string]int64, row, column string) {
	cells := table[row]
	if cells == nil {
		cells = map[string]int64{}
		table[row] = cells
	}
	cells[column]++
}

func addTable(to, from map[string]map[string]int64) {
	for row, cells := range from {
		if to[row] == nil {
			to[row] = map[string]int64{}
		}
		addCounts(to[row], cells)
	}
}

// add puts a case on a list, in the order of the archive. Texts are cut, as a sample of them is kept.
func (l *List) add(e Entry) {
	// it would keep its whole block of the archive
	e.Case, e.Says = strings.Clone(clip(e.Case, 200)), clip(e.Says, 1000)
	sum := sha256.Sum256([]byte(fmt.Sprintf("%s\x00%s\x00%s", e.Place, e.Case, e.Says)))
	l.merge(&List{Count: 1, Hash: hex.EncodeToString(sum[:]), Sample: []Entry{e}})
}

// merge adds a later part of the list.
func (l *List) merge(o *List) {
	l.Count += o.Count
	l.Hash = addHashes(l.Hash, o.Hash)
	l.Sample = append(l.Sample, o.Sample[:min(len(o.Sample), sampleSize-len(l.Sample))]...)
}

// addHashes adds two hashes modulo 2^256.
func addHashes(a, b string) string {
	x, _ := new(big.Int).SetString("0"+a, 16)
	y, _ := new(big.Int).SetString("0"+b, 16)
	if x == nil || y == nil {
		return a
	}
	x.Add(x, y)
	return fmt.Sprintf("%064x", x.Mod(x, new(big.Int).Lsh(big.NewInt(1), 256)))
}
