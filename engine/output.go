package engine

import (
	"time"

	"whystone/engine/phrase"
	"whystone/kb/diag"
)

// Output is a verdict as it is told and stored: the object that judge --json prints. Its shape is documented in the
// README; "format" is raised when it changes.
type Output struct {
	Format   int    `json:"format"`
	Case     string `json:"case"`
	Ruleset  string `json:"ruleset"`
	Method   int    `json:"method"`
	AsOf     string `json:"as_of"`
	AsOfFrom Dating `json:"as_of_from"`
	Verdict  string `json:"verdict"`
	Says     string `json:"says"`
	// Reasons are what Says tells, one after another, as data too.
	Reasons   []phrase.Told `json:"reasons"`
	Within    string        `json:"within"`     // the verdict as a part of a sentence
	NotListed *string       `json:"not_listed"` // likely, possible or null
	Named     *string       `json:"named"`
	Path      []string      `json:"path"`
	Nodes     []string      `json:"nodes"`
	// RestsOnPriors are the nodes that the readings fit nearly as well as the named one: likeliest first.
	RestsOnPriors []string `json:"rests_on_priors"`
	// TellApart are the tests that would tell the named node from the first of those.
	TellApart  []string     `json:"tell_apart"`
	Share      *float64     `json:"share"`
	Required   float64      `json:"required"`
	Doubt      float64      `json:"doubt"`
	DoubtLimit float64      `json:"doubt_limit"`
	Unlisted   float64      `json:"unlisted"`
	Support    *Support     `json:"support"`
	Claim      *ClaimOutput `json:"claim"`
	Candidates []Candidate  `json:"candidates"`
	Excluded   []Excluded   `json:"excluded"`
	SetAside   []SetAside   `json:"set_aside"`
	Repeat     [][]string   `json:"repeat"`
	Missing    []Note       `json:"missing"`
	SentOn     []Note       `json:"sent_on"`
	Cautions   []Note       `json:"cautions"`
	CallsFor   []Note       `json:"calls_for"`
	Forbids    []Note       `json:"forbids"`
	Flags      []Note       `json:"flags"`
	Waiting    []Note       `json:"waiting"`
	Drafts     []Draft      `json:"drafts"`
	// DraftsTogether is what all drafts of the ruleset would change; told only where they are more than the one above.
	DraftsTogether *Together `json:"drafts_together,omitempty"`
	Faults         []Note    `json:"faults"`
}

// Support is how much likelier the readings are under the named node than under the likeliest other.
type Support struct {
	Against string  `json:"against"`
	Ratio   float64 `json:"ratio"`
	Words   string  `json:"words"`
}

// ClaimOutput is the answer to the claim.
type ClaimOutput struct {
	Says        string       `json:"says"` // what was claimed
	Sentence    string       `json:"sentence"`
	Means       *string      `json:"means"`
	Answer      string       `json:"answer"`
	Why         phrase.Told  `json:"why"`
	Group       *string      `json:"group"`
	GroupAnswer *string      `json:"group_answer"`
	GroupWhy    *phrase.Told `json:"group_why"`
}

// Candidate is a material without exclusion, or what the ruleset lacks ("unlisted"). A leaf without a sheet of its own
// is told by its group's id.
type Candidate struct {
	Material string  `json:"material"`
	Name     string  `json:"name"`
	Share    float64 `json:"share"`
}

// Excluded is a material that a reading excludes.
type Excluded struct {
	Material string   `json:"material"`
	Name     string   `json:"name"`
	Families []string `json:"families"`
	By       string   `json:"by"` // the reading or rule that excludes it first
	Step     int      `json:"step"`
	Says     string   `json:"says"`
	// Zero tells that two families and two tests exclude it; else its exclusion may be one mistaken reading.
	Zero bool `json:"nought"`
	phrase.Values
}

// SetAside is a reading that does not count here.
type SetAside struct {
	Observable string  `json:"observable"`
	Rule       *string `json:"rule"` // that sets it aside; null: the stone does not meet what the test needs
	Test       *string `json:"test"` // that asks for what the stone does not meet
	Says       string  `json:"says"`
	phrase.Values
}

// Note is something told beside the verdict; what does not apply is null.
type Note struct {
	Says        string   `json:"says"`
	Rule        *string  `json:"rule"`
	Test        *string  `json:"test"`
	Observables []string `json:"observables"`
	phrase.Values
}

// Draft is a rule in draft that holds, and what would change if it were active: nothing when Would is null. Error says
// why it can't be made active.
type Draft struct {
	Note
	Would *Would    `json:"would"`
	Error diag.List `json:"error,omitempty"`
}

// Together is what would change if several drafts were active.
type Together struct {
	Rules []string  `json:"rules"`
	Would *Would    `json:"would"`
	Error diag.List `json:"error,omitempty"`
}

// Would is what a case would come to with other rules: the verdict, and what would be told beside it more or less.
type Would struct {
	Verdict  string       `json:"verdict"`
	Says     string       `json:"says"`
	Within   string       `json:"within"`
	Named    *string      `json:"named"`
	Nodes    []string     `json:"nodes"`
	Share    *float64     `json:"share"`
	Doubt    float64      `json:"doubt"`
	Support  *Support     `json:"support"`
	Claim    *ClaimOutput `json:"claim"`
	Toward   []string     `json:"toward"`    // the materials whose share would rise most
	Excluded Gain         `json:"excluded"`  // materials
	SetAside Gain         `json:"set_aside"` // observables
	Cautions Gain         `json:"cautions"`
	SentOn   Gain         `json:"sent_on"`
	CallsFor Gain         `json:"calls_for"` // tests
	Forbids  Gain         `json:"forbids"`   // tests
	Waiting  Gain         `json:"waiting"`
	Faults   Gain         `json:"faults"`
}

// Gain is what a list would have more, and less.
type Gain struct {
	Added   []string `json:"added"`
	Removed []string `json:"removed"`
}

// Failure stands in for a case that could not be read.
type Failure struct {
	Format int       `json:"format"`
	Case   string    `json:"case"`
	Error  diag.List `json:"error"`
}

// Explained is a verdict with the chain of reasoning behind it.
type Explained struct {
	Output
	Chain []Step `json:"chain"`
}

// Dating is where the date by which a case is judged comes from.
type Dating string

// What dates a case: itself, whoever asks, or the clock. The words are those of output.
const (
	ByCase   Dating = "taken"
	ByAsking Dating = "--as-of"
	ByClock  Dating = "clock"
)

// Moment is the date by which a case is judged, and where it comes from.
type Moment struct {
	On      time.Time
	DatedBy Dating
}
