package catalog

import (
	"maps"
	"slices"

	"whystone/engine"
	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/vocab"
)

// Format is the version of the shapes below.
const Format = 1

// Place is where something stands, and in which layer.
type Place struct {
	Layer string `json:"layer"`
	diag.Spot
	Replaces string `json:"replaces,omitempty"`
	Because  string `json:"because,omitempty"`
}

func placed(o kb.Place) Place {
	return Place{Layer: o.Layer, Spot: o.Span.Spot(), Replaces: o.Replaces, Because: o.Because}
}

// Material is a material's or group's sheet, with what it inherits.
type Material struct {
	Format int      `json:"format"`
	ID     string   `json:"id"`
	Name   string   `json:"name"`
	Also   []string `json:"also"`
	Path   []string `json:"path"`
	Group  bool     `json:"group"`
	// of a group: the materials below it that sheets are of
	Materials     []string               `json:"materials,omitempty"`
	Others        []Others               `json:"others,omitempty"` // of a group: its members that no sheet is of
	Nameable      bool                   `json:"nameable"`
	InVerdicts    string                 `json:"in_verdicts"` // where no colour was read
	ByColour      []ByColour             `json:"in_verdicts_by_colour,omitempty"`
	Was           []string               `json:"was"`
	Origin        kb.Origin              `json:"origin"`
	Formula       string                 `json:"formula"`
	SeenAtCounter string                 `json:"seen_at_counter"`
	Grown         kb.Growth              `json:"grown,omitempty"`   // what is known of laboratory growth
	Species       string                 `json:"species,omitempty"` // the node of which that is said
	Treatments    []string               `json:"treatments"`
	HarmedBy      []string               `json:"harmed_by"`
	Note          string                 `json:"note"`
	Properties    map[string]Range       `json:"properties"`
	Relations     []Relation             `json:"relations,omitempty"` // sorted by what is narrowed
	Outcomes      map[string]Frequencies `json:"outcomes"`
	Features      map[string]Frequencies `json:"features"`
	Place
}

// Others are the members of a group, of one origin, that no sheet is of.
type Others struct {
	Origin        kb.Origin `json:"origin"`
	SeenAtCounter string    `json:"seen_at_counter"`
}

// ByColour is the name of a stone of some colours, or of any.
type ByColour struct {
	Colour []string `json:"colour,omitempty"`
	Says   string   `json:"says"`
}

// Range is what a property's value can be.
type Range struct {
	Range     [2]float64  `json:"range"`
	Typical   *[2]float64 `json:"typical,omitempty"`
	Tolerance float64     `json:"tolerance,omitempty"`
	Source    string      `json:"source"`
	Derived   string      `json:"derived,omitempty"`
	From      string      `json:"from"` // the node whose sheet says it
	diag.Spot
}

// Relation is how a property goes with a quantity that was read beside it.
type Relation struct {
	Of      string       `json:"of"`
	By      string       `json:"by"`
	Ray     kb.Ray       `json:"ray,omitempty"` // of the index
	Through [][2]float64 `json:"through"`
	Within  float64      `json:"within"`
	Source  string       `json:"source"`
	From    string       `json:"from"` // the node whose sheet says it
	diag.Spot
}

// Frequencies are how often each outcome is seen.
type Frequencies struct {
	Seen map[string]kb.Frequency `json:"seen"`
	// Strength is of features, by feature: how often one that is seen looks how strong.
	Strength map[string]map[string]kb.Frequency `json:"strength,omitempty"`

	Source string `json:"source"`
	From   string `json:"from"`
	diag.Spot
}

// OfMaterial is the sheet of a material or group.
func OfMaterial(rs *kb.Ruleset, m *kb.Material) Material {
	out := Material{Format: Format, ID: m.ID, Name: m.Name, Also: list(m.Also), Path: list(m.Path()), Group: m.Group,
		Nameable: m.Nameable, InVerdicts: m.SaysOf(0), Grown: m.Grown, Was: list(m.Was), Origin: m.Origin,
		Formula: m.Formula, SeenAtCounter: m.Counter, Treatments: list(m.Treatments), HarmedBy: list(m.HarmedBy),
		Note: m.Note, Properties: map[string]Range{}, Outcomes: map[string]Frequencies{},
		Features: map[string]Frequencies{}, Place: placed(m.Place)}
	if m.Grown != "" {
		out.Species = m.Species.ID
	}
	if m.Group {
		out.Materials = ids(rs, slices.DeleteFunc(slices.Clone(m.Leaves),
			func(i int) bool { return rs.Leaves[i].Other }))
	}
	out.Others = english.Each(m.Others, func(o *kb.Material) Others { return Others{o.Origin, o.Counter} })
	out.ByColour = english.Each(m.ByColour, func(n kb.ColourName) ByColour {
		return ByColour{rs.Vocabulary.Observable(vocab.Colour).Of(n.Colours), n.Says}
	})
	for name, r := range m.Ranges {
		out.Properties[name] = Range{Range: [2]float64{r.Low, r.High}, Typical: r.Typical, Tolerance: r.Tolerance,
			Source: r.Source, Derived: r.Derived, From: r.SaidBy.ID, Spot: r.Span.Spot()}
	}
	for _, of := range slices.Sorted(maps.Keys(m.Relations)) {
		r := m.Relations[of]
		out.Relations = append(out.Relations, Relation{Of: of, By: r.By.Name, Ray: r.Ray, Through: r.Through,
			Within: r.Within, Source: r.Source, From: r.SaidBy.ID, Spot: r.Span.Spot()})
	}
	for to, from := range map[*map[string]Frequencies]map[string]*kb.Frequencies{&out.Outcomes: m.Choices,
		&out.Features: m.Features} {
		for name, f := range from {
			(*to)[name] = Frequencies{Seen: maps.Clone(f.Words), Strength: f.Strengths, Source: f.Source,
				From: f.SaidBy.ID, Spot: f.Span.Spot()}
		}
	}
	return out
}

// list is a list that is written as [] when there is nothing in it.
func list[T any](of []T) []T { return append([]T{}, of...) }

// ids lists the sheets of materials; of those that none is of, their group's.
func ids(rs *kb.Ruleset, leaves []int) []string {
	out := list(english.Each(leaves, func(i int) string { return engine.Told(rs.Leaves[i]).ID }))
	slices.Sort(out)
	return slices.Compact(out)
}

// Test is a test sheet.
type Test struct {
	Format    int      `json:"format"`
	ID        string   `json:"id"`
	Name      string   `json:"name"`
	Also      []string `json:"also"`
	Was       []string `json:"was"`
	Harm      string   `json:"harm"`
	Minutes   float64  `json:"minutes"`
	Needs     []Need   `json:"needs"`
	Procedure string   `json:"procedure"`
	Worth     string   `json:"worth"`
	Cautions  []string `json:"cautions"`
	Yields    []Yield  `json:"yields"`
	Source    string   `json:"source"`
	Place
}

// Need is what a test asks of the stone.
type Need struct {
	If     string `json:"if"`
	Says   string `json:"says"`
	Spoils bool   `json:"spoils,omitempty"` // a reading taken all the same is set aside
}

// Yield is what a test gives of one observable.
type Yield struct {
	Label       string      `json:"label,omitempty"` // what a form calls it
	Observable  string      `json:"observable"`
	Kind        string      `json:"kind"`
	Family      string      `json:"family"`
	Declares    bool        `json:"declares"` // this sheet declares the observable
	Unit        string      `json:"unit,omitempty"`
	Span        *[2]float64 `json:"span,omitempty"`
	Limits      *[2]float64 `json:"limits,omitempty"`
	Uncertainty float64     `json:"uncertainty,omitempty"`
	// Formula is how the uncertainty follows from the stone and the reading; where it comes to nothing, Uncertainty
	// counts. Figures are those of the instrument that it names, each with that of one that does not say, if there is
	// any.
	Formula    string              `json:"uncertainty_formula,omitempty"`
	Figures    map[string]*float64 `json:"figures,omitempty"`
	Resolution float64             `json:"resolution,omitempty"`
	Blunder    float64             `json:"blunder"`
	Neighbour  float64             `json:"neighbour,omitempty"` // how often an outcome is called by a neighbour's name
	Strengths  []string            `json:"strengths,omitempty"` // that a feature may have, from the faintest
	Outcomes   []Outcome           `json:"outcomes,omitempty"`
}

// Outcome is a choice or feature.
type Outcome struct {
	Name       string   `json:"name"`
	Also       []string `json:"also,omitempty"`
	Covers     []string `json:"covers,omitempty"`
	Blunder    float64  `json:"blunder,omitempty"`
	Background float64  `json:"background,omitempty"`
	Neighbours []string `json:"neighbours,omitempty"`
	// At are the places of a feature, in the observable's unit, and Within how far from each a reading may lie.
	At     []float64 `json:"at,omitempty"`
	Within float64   `json:"within,omitempty"`
}

// OfTest is the sheet of a test.
func OfTest(t *kb.Test) Test {
	out := Test{Format: Format, ID: t.ID, Name: t.Name, Also: list(t.Also), Was: list(t.Was), Harm: string(t.Harm),
		Minutes: t.Minutes, Procedure: t.Procedure, Worth: t.Worth, Cautions: list(t.Cautions),
		Source: t.Source, Place: placed(t.Place)}
	out.Needs = list(english.Each(t.Needs, func(n kb.Need) Need { return Need{textOf(n.If), n.Says, n.Spoils} }))
	out.Yields = list(english.Each(t.Yields, func(y *vocab.Yield) Yield { return yieldOf(t, y) }))
	return out
}

func yieldOf(t *kb.Test, y *vocab.Yield) Yield {
	o := y.Observable
	out := Yield{Label: y.Label, Observable: o.Name, Kind: o.Kind.String(), Family: o.Family, Declares: o.Test == t.ID,
		Blunder: y.Blunder, Neighbour: o.Neighbour, Strengths: o.Strengths}
	if o.Placed() {
		out.Unit = o.Unit
	}
	if o.Kind == vocab.Quantity {
		out.Unit, out.Span, out.Limits, out.Uncertainty, out.Resolution = o.Unit, &o.Span, &y.Limits, y.Uncertainty,
			o.Resolution
		out.Formula = y.Formula
	}
	for _, f := range y.Figures {
		if out.Figures == nil {
			out.Figures = map[string]*float64{}
		}
		out.Figures[f.Name] = f.Otherwise
	}
	out.Outcomes = outcomes(o)
	if o.Kind == vocab.Choice {
		for i := range out.Outcomes {
			out.Outcomes[i].Blunder = y.BlunderOf(i)
		}
	}
	return out
}

func outcomes(o *vocab.Observable) []Outcome {
	return english.Each(o.Outcomes, func(c vocab.Outcome) Outcome {
		out := Outcome{Name: c.Name, Also: c.Also, Covers: o.Of(c.Covers), Background: c.Background, At: c.At,
			Neighbours: o.Named(c.Neighbours)}
		if len(c.At) > 0 {
			out.Within = c.Within
		}
		return out
	})
}

// Rule is a rule.
type Rule struct {
	Format      int       `json:"format"`
	ID          string    `json:"id"`
	Table       string    `json:"table,omitempty"` // of which the rule is a row
	Row         string    `json:"row,omitempty"`
	Says        string    `json:"says"`
	If          string    `json:"if"` // empty: always
	Unless      string    `json:"unless,omitempty"`
	Excludes    *Chosen   `json:"excludes,omitempty"`
	Weighs      []Weight  `json:"weighs,omitempty"` // supports (ratio above 1) and weakens (below)
	SetsAside   []string  `json:"sets_aside,omitempty"`
	Establishes []string  `json:"establishes,omitempty"`
	CallsFor    []string  `json:"calls_for,omitempty"`
	Forbids     []string  `json:"forbids,omitempty"`
	Cautions    []string  `json:"cautions,omitempty"`
	SendsOn     string    `json:"sends_on,omitempty"`
	Withholds   *Withheld `json:"withholds,omitempty"`
	Family      string    `json:"family,omitempty"`
	BackedBy    string    `json:"backed_by,omitempty"`
	Source      string    `json:"source"`
	Status      string    `json:"status"`
	Since       string    `json:"since,omitempty"`
	Until       string    `json:"until,omitempty"`
	Author      string    `json:"author,omitempty"`
	ReviewedBy  string    `json:"reviewed_by,omitempty"`
	Tags        []string  `json:"tags,omitempty"`
	Was         []string  `json:"was,omitempty"`
	FromCase    string    `json:"from_case,omitempty"`   // that caused it
	ReplacedBy  []Instead `json:"replaced_by,omitempty"` // on the days on which these are in force, this one is not
	Examples    []Example `json:"examples"`
	Place
}

// Instead is a rule that is in force in place of another, between its dates.
type Instead struct {
	Rule  string `json:"rule"`
	Since string `json:"since,omitempty"`
	Until string `json:"until,omitempty"`
}

// Chosen is a set of materials, and how the rule writes it.
type Chosen struct {
	Says      string   `json:"says"`
	Materials []string `json:"materials"`
}

// Weight is evidence for materials, or against them.
type Weight struct {
	Chosen
	Unlisted bool    `json:"unlisted,omitempty"` // it speaks of what is not listed, too
	Ratio    float64 `json:"ratio"`
	Strength string  `json:"strength,omitempty"`
}

// Withheld is what a rule keeps back: names, until a condition holds; beside them stands what a narrowed list takes in.
type Withheld struct {
	Names  []string `json:"names"`
	Until  string   `json:"until,omitempty"` // empty: for as long as the rule fires
	Beside []string `json:"beside,omitempty"`
}

// Example is a case in small as it is written, and what the condition is on it.
type Example struct {
	Text string `json:"text"`
	Is   string `json:"is"`
}

// OfRule is a rule as it is written.
func OfRule(rs *kb.Ruleset, r *kb.Rule) Rule {
	out := Rule{Format: Format, ID: r.ID, Says: r.Says, CallsFor: r.CallsFor, Forbids: r.Forbids, Cautions: r.Cautions,
		SendsOn: r.SendsOn, Family: r.Family, BackedBy: r.BackedBy, Source: r.Source, Status: string(r.Status),
		Since: kb.Day(r.Since), Until: kb.Day(r.Until), Author: r.Author, ReviewedBy: r.ReviewedBy, Tags: r.Tags,
		Was: r.Was, FromCase: r.FromCase(), If: textOf(r.If), Unless: textOf(r.Unless), Place: placed(r.Place)}
	if t := r.Table; t != nil {
		out.Table, out.Row = t.ID, r.Row
	}
	for over := r.ReplacedBy; over != nil; over = over.ReplacedBy {
		out.ReplacedBy = append(out.ReplacedBy, Instead{over.ID, kb.Day(over.Since), kb.Day(over.Until)})
	}
	if r.Excludes != nil {
		out.Excludes = &Chosen{r.Excludes.Says, ids(rs, r.Excludes.Leaves)}
	}
	out.Weighs = english.Each(r.Weights, func(w kb.Weight) Weight {
		return Weight{Chosen{w.Says, ids(rs, w.Leaves)}, w.Unlisted, w.Ratio, w.Strength}
	})
	if w := r.Withholds; w != nil {
		out.Withholds = &Withheld{w.Names, textOf(w.Until), w.BesideIDs}
	}
	out.SetsAside = english.Each(r.SetsAside, func(o *vocab.Observable) string { return o.Name })
	out.Establishes = english.Each(r.Establishes, func(e kb.Establishes) string { return e.Fact.Name })
	out.Examples = list(english.Each(r.Examples, func(x kb.Example) Example {
		return Example{x.Span.Text(), x.Is.String()}
	}))
	slices.Sort(out.Establishes)
	return out
}

// textOf is a condition as it is written; "" where there is none.
func textOf(c *condition.Condition) string {
	if c == nil {
		return ""
	}
	return c.Text
}
