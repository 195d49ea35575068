package separation

import (
	"math"
	"time"

	"whystone/engine/phrase"
	"whystone/kb"
	"whystone/kb/english"
)

// Report is what a table says of a house, as it is told and stored; "format" is raised when its shape changes.
// Materials and tests are told by id.
type Report struct {
	Format    int     `json:"format"`
	Ruleset   string  `json:"ruleset"`
	AsOf      string  `json:"as_of"`
	Materials int     `json:"materials"`
	Pairs     int     `json:"pairs"`
	Apart     int     `json:"told_apart"` // pairs that a harmless test of the house tells apart by itself
	Required  float64 `json:"required"`   // the ratio that a test must reach
	// Lacks is the tests that the house is taken to lack, of those that may be done at all.
	Lacks []string `json:"lacks"`
	Alike []Alike  `json:"alike"`
	// Buys is what each lacked test would newly tell apart by itself, most first, those too that buy nothing.
	Buys []Bought `json:"buys"`
	// Loses is what would be alike without a test of the house, most first; tests that lose nothing are left out.
	Loses []Bought `json:"loses"`
}

// Alike is a group of materials, any two of which are told apart by no harmless test of the house.
type Alike struct {
	Materials []string `json:"materials"`
	Within    *string  `json:"within"`   // the lowest nameable group that holds them all
	Expected  bool     `json:"expected"` // there is one, and a verdict may name it
	Nearest   *Nearest `json:"nearest"`  // null: what a test usually gives favours none of them
	// Signs is what parts some of them when it is there, which it mostly is not.
	Signs []Seen `json:"now_and_then"`
	Says  string `json:"says"`
	// Reasons are what Says tells, one after another, as data too.
	Reasons []phrase.Told `json:"reasons"`
}

// Seen is an outcome or feature that parts a material from others when it is read, and is not read reliably: the
// material's sheet has it as "often", "sometimes" or "rarely". Want of it tells nothing here.
type Seen struct {
	Test       string       `json:"test"`
	Observable string       `json:"observable"`
	Outcome    string       `json:"outcome"`
	Seen       kb.Frequency `json:"seen"` // how often, by the material's sheet
	Of         string       `json:"of"`
	From       []string     `json:"from"` // those that it excludes, or under which it is too unlikely, by id
}

// Nearest is the test that comes nearest to a separation.
type Nearest struct {
	Test  string  `json:"test"`
	Ratio float64 `json:"ratio"`
	Of    string  `json:"of"`   // what the test usually gives of this is so many times likelier under it
	From  string  `json:"from"` // than under this
}

// Report tells of a house that lacks some tests. Ids that are not of Tests are left out.
func (t *Table) Report(lacks []string) *Report {
	r := &Report{Format: 1, Ruleset: t.rs.Digest, AsOf: t.on.Format(time.RFC3339), Materials: len(t.rs.Leaves),
		Pairs: len(t.told), Required: t.rs.Policy.Rival, Lacks: []string{}, Alike: []Alike{}}
	house := t.house(lacks)
	for _, told := range t.told {
		if told.Meets(house) {
			r.Apart++
		}
	}
	for _, i := range t.lacked(lacks).Members() {
		r.Lacks = append(r.Lacks, t.rs.Tests[i].ID)
	}
	for _, g := range t.Findings(lacks) {
		r.Alike = append(r.Alike, g.report())
	}
	r.Buys, r.Loses = t.Hangs(lacks)
	return r
}

func (g *Group) report() Alike {
	out := Alike{Materials: ids(g.Materials), Expected: g.Expected(), Signs: append([]Seen{}, g.Signs...),
		Says: g.Says(), Reasons: english.Each(g.Reasons, phrase.Reason.Told)}
	if g.Within != nil {
		out.Within = &g.Within.ID
	}
	if n := g.Nearest; n.Test != nil {
		out.Nearest = &Nearest{Test: n.Test.ID, Ratio: threeFigures(n.Ratio), Of: n.Of.ID, From: n.From.ID}
	}
	return out
}

func ids(list []*kb.Material) []string {
	return english.Each(list, func(m *kb.Material) string { return m.ID })
}

// threeFigures is a ratio without figures that nobody can rely on.
func threeFigures(x float64) float64 {
	scale := math.Pow(10, 2-math.Floor(math.Log10(x)))
	return math.Round(x*scale) / scale
}
