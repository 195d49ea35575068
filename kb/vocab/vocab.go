// Package vocab is the vocabulary of readings: which observables there are, of what kind and family, and what each
// test gives of them. Test sheets declare it; case files and rules are checked against it.
package vocab

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"whystone/kb/bitset"
)

// Names that the arithmetic itself knows.
const (
	RefractiveIndex = "ri"
	Birefringence   = "birefringence"
	Colour          = "colour"
	Transparency    = "transparency"
	Reflectance     = "reflectance"
)

// Kind says what a name stands for.
type Kind uint8

// The kinds. Observables are of the first three; stone properties, the claim and facts use the others too.
const (
	Quantity Kind = iota
	Choice
	Features
	Truth
	Text
)

var kindWords = [...]string{"quantity", "choice", "features", "truth", "text"}

// String gives the word used in test sheets and messages.
func (k Kind) String() string { return kindWords[k] }

// Noun is what a sentence says that something of the kind is, behind an article: "a set of features".
func (k Kind) Noun() string {
	if k == Features {
		return "set of features"
	}
	return k.String()
}

// MaxChoices and MaxFeatures bound a vocabulary, so that a reading fits into machine words.
const (
	MaxChoices  = 64
	MaxFeatures = 128
)

// Set is a set of features by index.
type Set = bitset.Fixed[[MaxFeatures / 64]uint64]

// Fold is the form in which names and other texts are compared: lower case, single spaces.
func Fold(text string) string { return strings.ToLower(strings.Join(strings.Fields(text), " ")) }

// Outcome is one choice or feature.
type Outcome struct {
	Name       string
	Also       []string
	Blunder    float64   // of a choice: how often this outcome is reported by mistake
	Covers     uint64    // of a choice: the choices that it leaves open; zero for an ordinary one
	Background float64   // of a feature: how often it is reported on stones in general, when looked for
	Neighbours Set       // that it may be called in its place; none that is not a neighbour in turn
	At         []float64 // of a feature: the places at which it is read, rising, in the observable's unit
	Within     float64   // how far from each of them a reading may lie
	Place      int       `json:"-"` // among those of the sheet, as it is written: forms ask in that order
}

// Observable is one thing that can be observed.
type Observable struct {
	Name     string
	Also     []string `json:",omitempty"` // what people who take readings call it, folded; for cases, and not for rules
	Index    int      // in Vocabulary.Observables, which are sorted by name
	Kind     Kind
	Family   string
	Test     string // the test whose sheet declares it
	Unit     string
	Property string     // of a quantity: the material property that it measures
	Span     [2]float64 // of a quantity: the values that can occur at all
	// Resolution, in the unit: a material's range narrower than this is widened about its middle.
	Resolution float64
	Outcomes   []Outcome // choices or features, sorted by name
	Plain      int       // of a choice: how many do not cover others
	// Neighbour is how often an outcome that has neighbours is called one of them, each alike.
	Neighbour float64
	Strengths []string // of features: how strong one may look, from the faintest
}

// Outcome finds a choice or feature by its name or an accepted other spelling.
func (o *Observable) Outcome(word string) (int, bool) {
	for i := range o.Outcomes {
		if o.Outcomes[i].Name == word || slices.Contains(o.Outcomes[i].Also, word) {
			return i, true
		}
	}
	return 0, false
}

// Listed are the choices or features in the order in which the sheet has them.
func (o *Observable) Listed() []Outcome {
	return slices.SortedFunc(slices.Values(o.Outcomes), func(a, b Outcome) int { return cmp.Compare(a.Place, b.Place) })
}

// Words lists the canonical names of the choices or features.
func (o *Observable) Words() []string {
	out := make([]string, len(o.Outcomes))
	for i := range o.Outcomes {
		out[i] = o.Outcomes[i].Name
	}
	return out
}

// Spellings lists the canonical names and all accepted others.
func (o *Observable) Spellings() []string {
	out := o.Words()
	for i := range o.Outcomes {
		out = append(out, o.Outcomes[i].Also...)
	}
	return out
}

// Of lists the names of a set of choices.
func (o *Observable) Of(set uint64) []string {
	var out []string
	for i := range o.Outcomes {
		if set>>i&1 == 1 {
			out = append(out, o.Outcomes[i].Name)
		}
	}
	return out
}

// Named lists the names of a set of outcomes.
func (o *Observable) Named(set Set) []string {
	var out []string
	for _, i := range set.Members() {
		out = append(out, o.Outcomes[i].Name)
	}
	return out
}

// Meaning is the set of plain choices that choice i stands for: itself, or those that it covers.
func (o *Observable) Meaning(i int) uint64 {
	if c := o.Outcomes[i].Covers; c != 0 {
		return c
	}
	return 1 << i
}

// Yield is what one test gives of one observable.
type Yield struct {
	Test       string
	Observable *Observable
	Label      string // what a form calls it; empty: the observable's name in words
	// of a quantity: standard uncertainty, in the unit; beside a Formula, where that comes to nothing
	Uncertainty float64
	// of a quantity: how the uncertainty follows from the stone and the reading; empty: it does not
	Formula string
	Figures []Figure   // that the formula may name, sorted
	Blunder float64    // how often the reading says nothing about the stone
	Outcome []float64  // of a choice: the blunder rate of each outcome
	Limits  [2]float64 // of a quantity: what the test can read at all
	Place   int        `json:"-"` // among those of the sheet, as it is written: forms ask in that order
}

// Figure is one that an instrument has of its own, and that a formula names.
type Figure struct {
	Name      string
	Otherwise *float64 // of an instrument that does not say; nil: nothing is known of it then
}

// BlunderOf is the blunder rate of a reading; outcome is the choice read, or -1.
func (y *Yield) BlunderOf(outcome int) float64 {
	if outcome >= 0 && outcome < len(y.Outcome) {
		return y.Outcome[outcome]
	}
	return y.Blunder
}

// Instrument is one of the house's own.
type Instrument struct {
	ID          string
	Test        string
	Observable  string      // what the figures are of; empty: of all that the test gives
	Uncertainty float64     // 0: the test's
	Blunder     float64     // 0: the test's
	Limits      *[2]float64 // nil: the test's
	Figures     map[string]float64
}

// Vocabulary is all of it. Immutable once built.
type Vocabulary struct {
	Observables []*Observable // sorted by name
	Yields      []*Yield      // sorted by observable, then test
	Instruments []*Instrument // sorted by id
	Tests       []string      // sorted ids, those that yield nothing too
}

// Observable finds one by name, or nil.
func (v *Vocabulary) Observable(name string) *Observable {
	i, ok := slices.BinarySearchFunc(v.Observables, name, func(o *Observable,
		n string) int {
		return cmp.Compare(o.Name, n)
	})
	if !ok {
		return nil
	}
	return v.Observables[i]
}

// Called finds one by its name or by what people call it, whatever the case of letters; spaces and hyphens stand for
// "_".
func (v *Vocabulary) Called(name string) *Observable {
	if o := v.Observable(name); o != nil {
		return o
	}
	name = Fold(name)
	if o := v.Observable(strings.NewReplacer(" ", "_", "-", "_").Replace(name)); o != nil {
		return o
	}
	for _, o := range v.Observables {
		if slices.Contains(o.Also, name) {
			return o
		}
	}
	return nil
}

// Names lists the observables.
func (v *Vocabulary) Names() []string {
	out := make([]string, len(v.Observables))
	for i, o := range v.Observables {
		out[i] = o.Name
	}
	return out
}

// OfTheStone are what people call a property of the stone, where that is not near its key.
var OfTheStone = map[string]string{"weight": "carat", "ct": "carat", "cts": "carat", "weight_ct": "carat",
	"shape": "cut", "mount": "setting", "loose": "mounted", "set": "mounted", "height": "depth_mm",
	"height_mm": "depth_mm", "diameter": "width_mm", "diameter_mm": "width_mm"}

// TestGives says what a test gives whose id stands where a reading is named, with hyphens or without; with partly, also
// one of whose id the name has a longer word: "spot_ri" of spot-reading. It is "" of what is no test.
func (v *Vocabulary) TestGives(name string, partly bool) string {
	words := strings.FieldsFunc(Fold(name), func(r rune) bool { return strings.ContainsRune(" -_", r) })
	for _, test := range v.Tests {
		of := strings.Split(test, "-")
		shared := slices.ContainsFunc(words, func(w string) bool { return len(w) > 3 && slices.Contains(of, w) })
		if !slices.Equal(words, of) && !(partly && shared) {
			continue
		}
		var gives []string
		for _, y := range v.Yields {
			if y.Test == test {
				gives = append(gives, y.Observable.Name)
			}
		}
		if len(gives) > 0 {
			return test + " is a test; it gives " + strings.Join(gives, ", ") + "."
		}
	}
	return ""
}

// Yield finds what a test gives of an observable, or nil.
func (v *Vocabulary) Yield(test string, o *Observable) *Yield {
	for _, y := range v.Yields {
		if y.Observable == o && y.Test == test {
			return y
		}
	}
	return nil
}

// Instrument finds one by id, or nil.
func (v *Vocabulary) Instrument(id string) *Instrument {
	for _, in := range v.Instruments {
		if in.ID == id {
			return in
		}
	}
	return nil
}

// HouseInstrument is the only instrument that the house has for a test, or nil when it has none or several.
func (v *Vocabulary) HouseInstrument(test string) *Instrument {
	var only *Instrument
	for _, in := range v.Instruments {
		if in.Test != test {
			continue
		}
		if only != nil {
			return nil
		}
		only = in
	}
	return only
}

// MaxTests bounds the tests of a house, so that a set of them fits into machine words.
const MaxTests = 256

// Build sorts and numbers the observables, their outcomes and yields. It expects names that are unique and spans,
// rates and words that were checked.
func Build(obs []*Observable, yields []*Yield, instruments []*Instrument, tests []string) (*Vocabulary, error) {
	if len(tests) > MaxTests {
		return nil, fmt.Errorf("the ruleset has %d tests, more than the %d that there may be", len(tests), MaxTests)
	}
	v := &Vocabulary{Observables: obs, Yields: yields, Instruments: instruments, Tests: tests}
	slices.SortFunc(v.Observables, func(a, b *Observable) int { return cmp.Compare(a.Name, b.Name) })
	for i, o := range v.Observables {
		o.Index = i
		if o.Kind == Choice && len(o.Outcomes) > MaxChoices || len(o.Outcomes) > MaxFeatures {
			return nil, fmt.Errorf("%s has %d outcomes, more than there may be", o.Name, len(o.Outcomes))
		}
		o.Plain = 0
		for _, c := range o.Outcomes {
			if c.Covers == 0 {
				o.Plain++
			}
		}
	}
	slices.SortFunc(v.Yields, func(a, b *Yield) int {
		return cmp.Or(cmp.Compare(a.Observable.Index, b.Observable.Index), cmp.Compare(a.Test, b.Test))
	})
	slices.SortFunc(v.Instruments, func(a, b *Instrument) int { return cmp.Compare(a.ID, b.ID) })
	slices.Sort(v.Tests)
	return v, nil
}
