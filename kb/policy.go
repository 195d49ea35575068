package kb

import (
	"maps"
	"slices"
	"time"

	"whystone/kb/diag"
	"whystone/kb/vocab"
)

// Policy is what a house decides: how sure it wants to be, what it sees at its counter, its instruments.
type Policy struct {
	Zone           *time.Location
	Currency       string // ISO 4217
	Wording        string // iso-18323 or us-16-cfr-23
	Unlisted       float64
	Misfit         float64 // standard uncertainties beyond which a reading excludes
	Rival          float64 // how many times less likely a rival must be
	FurtherWeight  float64 // of what a family already said
	MissedTurn     float64 // how often a full turn misses the extreme rays
	Frequency      map[Frequency]float64
	Strength       map[string]float64
	Scale          []Band // by rising From
	SeenAtCounter  map[string]float64
	Priors         map[string]float64
	Required       []Requirement // by rising Stake
	Claims         []ClaimEntry  // sorted by word
	Instruments    []*vocab.Instrument
	Costs          map[string]float64
	Gate           []string
	GateSpans      []diag.Span // of each sentence of Gate
	ReviewRequired bool        // of the rules of the layer that says so and of those above it
	// EverySheetSays lists the observables and properties that proofreading asks every material for.
	EverySheetSays []string
}

// Band is a step of the verbal scale of support.
type Band struct {
	From float64
	Says string
}

// Requirement is how sure the house wants to be from a stake on.
type Requirement struct{ Stake, Share, DoubtLimit float64 }

// ClaimEntry is what a word of the trade claims.
type ClaimEntry struct {
	Word, Node string
	Origin     Origin // demanded; empty: any
	Colours    []string
	Span       diag.Span
}

// Frequency is a word for how often an outcome is seen.
type Frequency string

// The words, from the most frequent. Never is for what physics forbids.
const (
	Always    Frequency = "always"
	Usually   Frequency = "usually"
	Often     Frequency = "often"
	Sometimes Frequency = "sometimes"
	Rarely    Frequency = "rarely"
	Never     Frequency = "never"
)

// FrequencyWords are all of them, from the most frequent.
var FrequencyWords = []Frequency{Always, Usually, Often, Sometimes, Rarely, Never}

// RequiredFor is the requirement at a stake.
func (p *Policy) RequiredFor(stake float64) Requirement {
	out := p.Required[0]
	for _, r := range p.Required {
		if stake >= r.Stake {
			out = r
		}
	}
	return out
}

// Words is the verbal scale's word for a likelihood ratio of at least 1.
func (p *Policy) Words(ratio float64) string {
	out := ""
	for _, b := range p.Scale {
		if ratio >= b.From {
			out = b.Says
		}
	}
	return out
}

// Seen is the outcomes that are seen as often as one word says, sorted.
type Seen struct {
	Word     Frequency
	Outcomes []string
}

// ByFrequency groups outcomes by how often they are seen, the most frequent first.
func ByFrequency(words map[string]Frequency) (out []Seen) {
	for _, word := range FrequencyWords {
		var outcomes []string
		for _, o := range slices.Sorted(maps.Keys(words)) {
			if words[o] == word {
				outcomes = append(outcomes, o)
			}
		}
		if outcomes != nil {
			out = append(out, Seen{word, outcomes})
		}
	}
	return out
}
