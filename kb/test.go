package kb

import (
	"whystone/kb/condition"
	"whystone/kb/vocab"
)

// Harm is what a test does to the stone.
type Harm string

// The degrees of harm. Only the first two are ever suggested.
const (
	NoHarm   Harm = "none"
	Contact  Harm = "contact"
	Marks    Harm = "marks"
	Destroys Harm = "destroys"
)

// Harmless tells whether what does so much harm may be suggested.
func (h Harm) Harmless() bool { return h == NoHarm || h == Contact }

// Need is what a test asks of the stone.
type Need struct {
	If   *condition.Condition // over the stone, and over what is read unless it spoils
	Says string
	// Spoils tells that a reading taken although the need fails is set aside, with the need as the reason.
	Spoils bool
}

// Test is a test sheet: a procedure, what it needs, what it gives, and what it can do to stone and person.
type Test struct {
	ID, Name, Procedure, Worth string
	Needs                      []Need
	Minutes                    float64
	Harm                       Harm
	// ByEye marks a mere impression, taken without an instrument. Its readings weigh like any, but it is none of the
	// two tests that a name needs, and none of the two readings by which a claim falls.
	ByEye     bool
	Cautions  []string
	Also, Was []string
	Source    string
	Yields    []*vocab.Yield // sorted by observable
	Derived   []Derived
	Place     Place
}

// Harmless tells whether the test may be suggested.
func (t *Test) Harmless() bool { return t.Harm.Harmless() }

// Derived is how a quantity follows from what is known of the stone when nobody read it: specific gravity from weight
// and measurements, say. Of several the first whose condition holds is used.
type Derived struct {
	Observable *vocab.Observable
	If         *condition.Condition // over the stone; nil: always
	Reads      *condition.Condition // what Is reads; its truth has no meaning
	Is         *condition.Arith     // over the stone, in the observable's unit
	Relative   float64              // standard uncertainty, as a part of the value
	Says       string
	Source     string
}

// Formula is how the uncertainty of a reading follows from the stone, from what was read, and from figures of the
// instrument.
type Formula struct {
	Is    *condition.Arith
	Scope *condition.Scope // the stone, then the value, then the figures
}
