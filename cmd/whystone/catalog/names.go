package catalog

import (
	"cmp"
	"slices"
	"strings"

	"whystone/kb"
	"whystone/kb/condition"
	"whystone/kb/english"
	"whystone/kb/vocab"
)

// What a name that a condition may use is a name of.
const (
	Observable = "observable"
	Stone      = "stone"
	Case       = "case" // the claim and the stake
	Fact       = "fact"
)

// Name is a name that a condition may use, and what can be said of it.
type Name struct {
	Format int    `json:"format"`
	Name   string `json:"name"`
	Of     string `json:"of"`   // observable, stone, case or fact
	Kind   string `json:"kind"` // quantity, choice, features, truth or text
	Family string `json:"family,omitempty"`
	Unit   string `json:"unit,omitempty"`
	// Span is the values that a quantity can have at all.
	Span *[2]float64 `json:"span,omitempty"`
	// Outcomes are the choices or features of an observable, or the words of a fact.
	Outcomes []Outcome `json:"outcomes,omitempty"`
	Tests    []string  `json:"tests,omitempty"` // that give the observable
	Rules    []string  `json:"rules,omitempty"` // that establish the fact, drafts too
}

// Names lists what a condition may name: observables by family and name, then the properties of the stone, the claim
// and the stake, then the facts that rules establish, by name. Names that only retired rules know are left out.
func Names(rs *kb.Ruleset) []Name {
	out := english.Each(rs.Vocabulary.Observables, func(o *vocab.Observable) Name { return observable(rs, o) })
	slices.SortStableFunc(out, func(a, b Name) int { return cmp.Compare(a.Family, b.Family) })
	for slot := range rs.Scope.Len() {
		if s := rs.Scope.At(slot); s.Observable == nil && !s.Fact && s.Past == "" {
			out = append(out, ofCase(rs, s))
		}
	}
	for _, f := range rs.Facts {
		establishes := func(e kb.Establishes) bool { return e.Fact == f }
		out = append(out, Name{Format: Format, Name: f.Name, Of: Fact, Kind: f.Kind.String(),
			Outcomes: english.Each(f.Words, func(w string) Outcome { return Outcome{Name: w} }),
			Rules: english.Only(rs.Rules, func(r *kb.Rule) (string, bool) {
				return r.ID, r.Status != kb.Retired && slices.ContainsFunc(r.Establishes, establishes)
			})})
	}
	return out
}

func observable(rs *kb.Ruleset, o *vocab.Observable) Name {
	n := Name{Format: Format, Name: o.Name, Of: Observable, Kind: o.Kind.String(), Family: o.Family,
		Outcomes: outcomes(o), Tests: english.Only(rs.Vocabulary.Yields,
			func(y *vocab.Yield) (string, bool) { return y.Test, y.Observable == o })}
	if o.Kind == vocab.Quantity {
		n.Unit, n.Span = o.Unit, &o.Span
	}
	return n
}

// ofCase is a property of the stone, the claim or the stake.
func ofCase(rs *kb.Ruleset, s *condition.Symbol) Name {
	n := Name{Format: Format, Name: s.Name, Of: Case, Kind: s.Kind.String()}
	if strings.HasPrefix(s.Name, "stone.") {
		n.Of = Stone
	}
	switch {
	case s.Name == "stake":
		n.Unit = rs.Policy.Currency
	case s.Name == "stone.carat":
		n.Unit = "ct"
	case strings.HasSuffix(s.Name, "_mm"):
		n.Unit = "mm"
	}
	return n
}
