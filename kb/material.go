package kb

import (
	"cmp"
	"slices"

	"whystone/kb/diag"
	"whystone/kb/vocab"
)

// Material is a node of the tree of materials: a group, or a leaf that a stone may be.
type Material struct {
	ID, Name   string
	Index      int // of a leaf: its place in Ruleset.Leaves; of a group -1
	Group      bool
	Nameable   bool   // whether a verdict may name it; leaves always
	InVerdicts string // the words that a verdict uses
	// ByColour are names that a verdict uses, the first whose colours the reading meets; in place of InVerdicts.
	ByColour []ColourName
	// Other marks a leaf without a sheet of its own, which stands for the members of its group (its Parent) of one
	// origin that no sheet is of. It is not nameable; its ID holds a colon, as no sheet's can.
	Other bool
	// Grown is what is said of laboratory growth by the sheet of the species: none known, listed, not listed, or
	// nothing.
	Grown Growth
	// Species is the nearest node, itself included, whose sheet says Grown; else the topmost nameable one; nil when
	// nothing nameable lies at or above it.
	Species    *Material
	Also, Was  []string
	Origin     Origin
	Formula    string
	Treatments []string
	HarmedBy   []string
	Note       string
	Counter    string // how common it is at a counter; own or inherited
	Parent     *Material
	Kids       []*Material // that sheets are of, sorted by id
	Others     []*Material // of a group: the leaves for members without a sheet, sorted by id
	Leaves     []int       // indexes of all leaves at or below it, rising
	Depth      int
	// What the sheets say, inherited from above where the node says nothing itself; by property or observable.
	Ranges   map[string]*Range
	Choices  map[string]*Frequencies
	Features map[string]*Frequencies
	// Relations narrow ranges by what else was read; by the property that is narrowed.
	Relations map[string]*Relation
	Accepts   []Acceptance
	Prior     float64 // of a leaf: how common it is at the counter, on the policy's scale
	Place     Place
}

// Range is what a property's value can be.
type Range struct {
	Low, High float64
	Typical   *[2]float64 // where most stones lie
	Tolerance float64     // beyond the range before a reading excludes, besides its uncertainty
	Source    string
	Derived   string    // how it was computed, when no sheet gives it
	SaidBy    *Material // the node whose sheet says it
	Span      diag.Span
}

// Frequencies are how often each outcome is seen.
type Frequencies struct {
	Words  map[string]Frequency // by outcome
	Single string               // the outcome, when the sheet names just one
	// Strengths are of features, by feature: how often one that is seen looks how strong.
	Strengths map[string]map[string]Frequency
	Source    string
	SaidBy    *Material // the node whose sheet says it
	Span      diag.Span
}

// Path lists the ids from the topmost nameable node down to m.
func (m *Material) Path() []string {
	var out []string
	for n := m; n != nil; n = n.Parent {
		if n.Nameable {
			out = append(out, n.ID)
		}
	}
	slices.Reverse(out)
	return out
}

// Speaks tells whether the sheets say something of an observable or a property for the material.
func (m *Material) Speaks(v *vocab.Vocabulary, name string) bool {
	property := name
	if o := v.Observable(name); o != nil && o.Kind == vocab.Quantity {
		property = o.Property
	}
	return m.Ranges[property] != nil || m.Choices[name] != nil || m.Features[name] != nil
}

// Under tells whether m is g or lies below it.
func (m *Material) Under(g *Material) bool {
	for n := m; n != nil; n = n.Parent {
		if n == g {
			return true
		}
	}
	return false
}

// NameableAbove is the lowest nameable group strictly above m, or nil.
func (m *Material) NameableAbove() *Material {
	for n := m.Parent; n != nil; n = n.Parent {
		if n.Nameable {
			return n
		}
	}
	return nil
}

// Properties lists what material sheets can give a range of: what some quantity measures.
func Properties(v *vocab.Vocabulary) []string {
	var out []string
	for _, o := range v.Observables {
		if o.Kind == vocab.Quantity {
			out = append(out, o.Property)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// Priors are the prior probabilities of the leaves; together they make 1 less that of what is unlisted.
func (rs *Ruleset) Priors() []float64 {
	out := make([]float64, len(rs.Leaves))
	sum := 0.0
	for i, m := range rs.Leaves {
		out[i] = m.Prior
		sum += out[i]
	}
	for i := range out {
		out[i] = out[i] / sum * (1 - rs.Policy.Unlisted)
	}
	return out
}

// Origin is where a stone is from.
type Origin string

// The origins.
const (
	Natural         Origin = "natural"
	LaboratoryGrown Origin = "laboratory-grown"
	Imitation       Origin = "imitation"
	Assembled       Origin = "assembled"
)

// Origins are all of them.
var Origins = []Origin{Natural, LaboratoryGrown, Imitation, Assembled}

// Growth is what a species' sheet says of laboratory growth: that none is known, that it is listed, or that there is
// such, and no sheet is of it. Empty when it says nothing.
type Growth string

// What may be said.
const (
	NoneKnown Growth = "none known"
	Listed    Growth = "listed"
	NotListed Growth = "not listed"
)

// ColourName is a name for a stone of some colours.
type ColourName struct {
	Colours uint64 // outcomes of the observable colour; 0: of any, and of one whose colour was not read
	Says    string
}

// Says is how a verdict names it, whatever its colour.
func (m *Material) Says() string { return cmp.Or(m.InVerdicts, m.Name) }

// SaysOf is how a verdict names a stone whose colour was read as one of the outcomes in colours; 0: not read. A name
// that demands a colour is never used for another.
func (m *Material) SaysOf(colours uint64) string {
	if m.ByColour == nil {
		return m.Says()
	}
	for _, n := range m.ByColour {
		if n.Colours == 0 || colours != 0 && colours&^n.Colours == 0 {
			return n.Says
		}
	}
	return m.Name
}
