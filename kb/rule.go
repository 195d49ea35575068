package kb

import (
	"fmt"
	"slices"
	"time"

	"whystone/kb/casefile"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/logic"
	"whystone/kb/vocab"
)

// Status is how far a rule has come.
type Status string

// A draft is evaluated and shown, but changes nothing; a retired rule is kept, and not evaluated.
const (
	Draft   Status = "draft"
	Active  Status = "active"
	Retired Status = "retired"
)

// Rule is a condition over readings, and what follows from it.
type Rule struct {
	ID, Says    string
	If, Unless  *condition.Condition // nil: always, never
	Excludes    *Selection
	Weights     []Weight // supports, and weakens with Ratio below 1
	SetsAside   []*vocab.Observable
	Establishes []Establishes
	CallsFor    []string // tests
	Forbids     []string
	Cautions    []string
	SendsOn     string
	Withholds   *Withholding // nil: keeps no name back
	Family      string       // of its evidence; empty when it has none
	BackedBy    string
	Source      string
	Status      Status
	Since       time.Time // zero: always was
	Until       time.Time // zero: has no end
	Author      string
	ReviewedBy  string
	Tags, Was   []string
	Examples    []Example
	Accepts     []Acceptance
	Place       Place

	ReplacedBy *Rule // the one of a higher layer that stands in for it on the days on which that is in force, or nil
	Replaced   *Rule // the one of a lower layer that this one has as its ReplacedBy, or nil
	Away       *Away // when a higher layer retires it for a time, or from a day on; nil: it does not

	// Basis is what the rule's evidence rests on: the observables that it names, through facts too, with the features
	// of those of them that are sets. Sorted.
	Basis    []Atom
	Observes []*vocab.Observable // those of Basis, once each

	Table *Table               // that it is a row of, or nil
	Row   string               // its name there
	Turn  int                  // its place in Ruleset.Order; -1 when it is not evaluated
	Keys  map[string]diag.Span // where its sheet says what it says under a key
}

// Away is the time for which a higher layer retires a rule.
type Away struct {
	Since, Until   time.Time // zero: has no beginning, no end
	Because, Layer string
	Span           diag.Span
}

// On tells whether a date lies in it: since is inclusive, until exclusive.
func (a *Away) On(on time.Time) bool {
	return a != nil && (a.Since.IsZero() || !on.Before(a.Since)) && (a.Until.IsZero() || on.Before(a.Until))
}

// Example is a case in small, and what the rule's condition is on it.
type Example struct {
	Case *casefile.Case
	Is   logic.Value
	Span diag.Span
}

// OnlyAdvises tells whether nothing but cautions and calls for tests follow: a verdict does not depend on it.
func (r *Rule) OnlyAdvises() bool {
	return !r.Evidence() && len(r.SetsAside)+len(r.Establishes)+len(r.Forbids) == 0 && r.SendsOn == "" &&
		r.Withholds == nil
}

// Evidence tells whether the rule weighs materials.
func (r *Rule) Evidence() bool { return r.Excludes != nil || len(r.Weights) > 0 }

// Slots lists what the rule reads, as slots of the scope, without repeats.
func (r *Rule) Slots() []int {
	var out []int
	for _, c := range []*condition.Condition{r.If, r.Unless} {
		if c != nil {
			out = append(out, c.Reads...)
		}
	}
	for _, e := range r.Establishes {
		if e.Reads != nil {
			out = append(out, e.Reads.Reads...)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// InForce tells whether a rule applies on a date: since is inclusive, until exclusive, no layer may have retired it for
// that day, and no rule that stands in for it may be in force. A draft is tried before it is to begin.
func (r *Rule) InForce(on time.Time) bool {
	if r.Away.On(on) {
		return false
	}
	for over := r.ReplacedBy; over != nil; over = over.ReplacedBy {
		if over.Dated(on) {
			return false
		}
	}
	return r.Dated(on)
}

// Day is a day as files write it; "" where there is none.
func Day(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.DateOnly)
}

// Dated tells whether a rule's own dates take in a date.
func (r *Rule) Dated(on time.Time) bool {
	return (r.Since.IsZero() || r.Status == Draft || !on.Before(r.Since)) && (r.Until.IsZero() || on.Before(r.Until))
}

// AtTimes tells whether a rule may be out of force.
func (r *Rule) AtTimes() bool {
	return !r.Since.IsZero() || !r.Until.IsZero() || r.ReplacedBy != nil || r.Away != nil
}

// FromCase is the case that caused the rule: the first of its examples that has a number. Empty when none has.
func (r *Rule) FromCase() string {
	for _, ex := range r.Examples {
		if ex.Case.ID != "" {
			return ex.Case.ID
		}
	}
	return ""
}

// MaxRatio is how strong evidence may be that names no data behind it.
const MaxRatio = 10000

// Unlisted is the name under which evidence may speak of what the ruleset lacks. No material or group bears it as its
// id.
const Unlisted = "unlisted"

// Selection is a set of materials.
type Selection struct {
	Leaves []int // indexes, rising
	Where  *condition.Condition
	Says   string // as written: ids, or the condition
}

// Weight is evidence for materials (Ratio above 1) or against them.
type Weight struct {
	Selection
	Ratio    float64
	Unlisted bool   // it speaks of what the ruleset lacks, too
	Strength string // the policy's word, if one was written
}

// Withholding keeps names back while its rule fires and Until does not hold, undecided included.
type Withholding struct {
	Names     []string             // ids of the materials and groups whose names are kept back, as written
	Leaves    []int                // indexes of the leaves at or below its names, rising
	Until     *condition.Condition // nil: for as long as the rule fires
	Beside    []int                // the leaves that a narrowed list of withheld names takes in, rising
	BesideIDs []string             // as written
}

// WithheldUntil is the condition that lifts what the rule withholds, or nil.
func (r *Rule) WithheldUntil() *condition.Condition {
	if r.Withholds == nil {
		return nil
	}
	return r.Withholds.Until
}

// Establishes is what a rule gives a fact.
type Establishes struct {
	Fact  *Fact
	Word  int              // of a choice
	Expr  *condition.Arith // of a quantity
	Reads *condition.Condition
	Span  diag.Span // of the fact's name in the rule
}

// Fact is what rules establish for other rules.
type Fact struct {
	Name  string
	Kind  vocab.Kind // Truth, Choice or Quantity
	Words []string   // of a choice, sorted
	Slot  int
	By    []*Rule
}

// Atom is one thing that evidence rests on: an observable, or one feature of it.
type Atom struct {
	Observable *vocab.Observable
	Feature    int // -1 when the observable is no set of features
}

// String names an atom as people read it.
func (a Atom) String() string {
	if a.Feature < 0 {
		return a.Observable.Name
	}
	return fmt.Sprintf("%s: %s", a.Observable.Name, a.Observable.Outcomes[a.Feature].Name)
}
