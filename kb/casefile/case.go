// Package casefile is the shape of a case: a stone, what is claimed of it, and its readings, as people write them in
// YAML or JSON, checked against the vocabulary.
//
// Nothing is judged here. A reading is taken as it stands, repeats in one place are combined, and what can't be meant
// (an unknown name, a value outside the span of the observable, 1.9 from a refractometer that ends at 1.81) is refused
// with its position.
package casefile

import (
	"cmp"
	"slices"
	"time"

	"whystone/kb/diag"
	"whystone/kb/vocab"
)

// Form is the way in which a reading was given.
type Form uint8

// The forms of a usable reading, and Inconclusive.
const (
	Value        Form = iota // a quantity with its standard uncertainty
	Interval                 // a quantity within hard bounds
	Pair                     // the two extreme rays of a full turn
	Choice                   // one of the observable's choices
	Features                 // features seen, and looked for
	Inconclusive             // tried, with the reason why it stayed open
)

// Reading is what was observed of one observable in one place, repeats combined.
type Reading struct {
	Observable *vocab.Observable
	Form       Form
	Disagrees  bool // of Inconclusive: because repeats disagree
	Derived    bool // not read, but computed from the stone
	// Known is the number that a [Skimmer] gave it, from 1; 0: none. Readings of one skimmer that bear one number say
	// the same, but for which features they name.
	Known int
	// Instrument stands beside what judging an archive looks at, as that counts by it: further down, each reading would
	// have to be fetched from memory again.
	Instrument string
	Where      string // the place on the stone, if given
	// the need of its test that the stone does not meet, for which it is set aside; else empty; never combined
	Spoilt      string
	Outcome     int       // of Choice
	Value, U    float64   // of Value; of Pair the low ray; the observable's unit, u standard (k = 1)
	High, HighU float64   // of Pair: the high ray
	Lo, Hi      float64   // of Interval, an open end infinite; an excluded end moved by one floating-point step
	Noise       float64   // of Interval: the standard uncertainty behind its bounds
	Blunder     float64   // how often such a reading says nothing about the stone
	Seen        vocab.Set // of Features
	LookedFor   vocab.Set // of Features: those, and all seen
	Lines       []Line    // of Features: what was read by its place, or with its strength; in order
	Tests       []string  // the tests that gave it, sorted
	Reason      string    // of Inconclusive
	Repeats     int       // how many readings were combined
	// all that it was combined of, those that stayed inconclusive among them; nil where it stands alone
	Parts        []*Reading
	By, At, Note string
	Span         diag.Span
}

// Line is a feature that was read with its strength, or something that was read by its place alone: it may be one of
// several, or part of one of which more should be read.
type Line struct {
	Features vocab.Set // what was seen is, or is part of, one of them
	At       float64   // where it was read, in the observable's unit; of several that come to the same, the lowest
	Strength int       // in the observable's Strengths; NoStrength: nothing said
}

// NoStrength stands for the strength of a line of which nothing is said.
const NoStrength = -1

// Only is the one feature that it can be, or -1.
func (l *Line) Only() int {
	if all := l.Features.Members(); len(all) == 1 {
		return all[0]
	}
	return -1
}

// LineOf is which line says the strength of a feature that was seen, or -1.
func (r *Reading) LineOf(f int) int {
	return slices.IndexFunc(r.Lines, func(l Line) bool { return l.Only() == f && r.Seen.Has(f) })
}

// Sure tells whether a line is of a feature that was seen; else it may be of several, or part of one.
func (r *Reading) Sure(l *Line) bool {
	only := l.Only()
	return only >= 0 && r.Seen.Has(only)
}

// Name is the observable's, with the place where several places were read.
func (r *Reading) Name() string {
	if r.Where == "" {
		return r.Observable.Name
	}
	return r.Observable.Name + " (" + r.Where + ")"
}

// Usable tells whether it says anything.
func (r *Reading) Usable() bool { return r.Form != Inconclusive && r.Spoilt == "" }

// Stone is the thing examined. A nil field was not given.
type Stone struct {
	Mounted, Warm, Wet, Coated *bool
	Carat                      *float64 // ct
	Length, Width, Depth       *float64 // mm
	Cut, Setting               string   // lower case, single spaces
}

// Correlation is a correlation coefficient between the readings of two observables.
type Correlation struct {
	A, B *vocab.Observable
	R    float64
}

// Misfit is a quantity that would follow from the weight and the measurements of a stone, and that none can have.
type Misfit struct {
	Observable *vocab.Observable
	Value      float64
}

// Case is one case.
type Case struct {
	ID           string
	Claim        string // lower case, single spaces; empty when nothing is claimed
	ClaimSays    string // as written
	Taken        time.Time
	HasTaken     bool
	Desk         string
	By           string // who judged it
	Stone        Stone
	Stake        *float64   // in the policy's currency
	Readings     []*Reading // by observable, then place, those that the stone spoils last
	Correlations []Correlation
	Misfit       *Misfit // nil where weight and measurements go together, or nothing follows from them
	Note         string
	// For QA; never read by the judging.
	Truth    string
	Recorded Recorded
	Span     diag.Span
}

// Recorded is what was said of the case when it was judged.
type Recorded struct {
	Verdict, Claim, Named, Ruleset string
	Method                         int
	Nodes                          []string
}

// Has tells whether an observable was read, or tried.
func (c *Case) Has(o *vocab.Observable) bool {
	return slices.ContainsFunc(c.Readings, func(r *Reading) bool { return r.Observable == o })
}

// On is the time as of which the case is judged: when it was taken, or else another.
func (c *Case) On(otherwise time.Time) time.Time {
	if c.HasTaken {
		return c.Taken
	}
	return otherwise
}

// Add puts a reading in its place.
func (c *Case) Add(r *Reading) {
	i, _ := slices.BinarySearchFunc(c.Readings, r, compareReadings)
	c.Readings = slices.Insert(c.Readings, i, r)
}

func compareReadings(a, b *Reading) int {
	return cmp.Or(cmp.Compare(a.Observable.Name, b.Observable.Name), cmp.Compare(a.Where, b.Where),
		cmp.Compare(a.Spoilt, b.Spoilt))
}

// Without is the case less some readings.
func (c *Case) Without(gone func(r *Reading) bool) *Case {
	out := *c
	out.Readings = slices.DeleteFunc(slices.Clone(c.Readings), gone)
	return &out
}
