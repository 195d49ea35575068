package proofread

import (
	"fmt"
	"math"
	"slices"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/sat"
	"whystone/kb/vocab"
)

var (
	repeatsSheet = diag.New("repeats-sheet", "A rule excludes only what the sheets exclude on the same reading.",
		`A rule on one observable excludes only materials whose sheets exclude them on that reading already, by a range that
lies elsewhere or an outcome that is "never". The sheets do it better, as they weigh the uncertainty of the reading.`)
	excludesOwn = diag.New("excludes-own", "A rule excludes a material on readings that its own sheet gives it.",
		`A rule excludes a material, and there is a case in which it fires on readings every one of which the sheet of that very
material gives as its own: a quantity within its range, an outcome or a feature that it shows sometimes or more often. The
witness is such a case. What the sheet is silent about does not count. With outcomes that the sheet has as "rarely" it is a note.`)
)

func init() {
	Register(Check{Order: 30, Look: againstSheets, Finds: []diag.Code{repeatsSheet, excludesOwn}})
}

// againstSheets holds what rules exclude against what the materials' sheets say: a rule that excludes a material whose
// own sheet says it belongs there, and one that excludes only what the sheets exclude on the same reading already.
func againstSheets(p *Pass) {
	for r := range p.rules {
		if r.Excludes == nil || len(r.Excludes.Leaves) == 0 {
			continue
		}
		fires := p.space.Fires(r)
		if !p.excludesOwn(r, fires, ownTo) {
			p.excludesOwn(r, fires, seldom)
		}
		if len(r.Observes) == 1 && len(r.Establishes)+len(r.SetsAside)+len(r.Weights) == 0 {
			p.repeatsSheet(r, fires, r.Observes[0])
		}
	}
}

// excludesOwn looks for a case in which the rule fires on readings every one of which the sheet of an excluded material
// gives as its own: a quantity within its range, an outcome or feature with one of the words. It tells whether there is
// one.
func (p *Pass) excludesOwn(r *kb.Rule, fires *sat.Formula, words []kb.Frequency) bool {
	var named []int
	var shown *Witness
	observables := p.space.Observables(fires)
	for _, l := range r.Excludes.Leaves {
		own := p.own(p.Ruleset.Leaves[l], observables, words)
		if own == sat.False || !p.can(sat.And(fires, own)) {
			continue
		}
		w, why := p.witness(sat.And(fires, own), "excludes-own-"+r.ID, fired(r))
		if w == nil {
			p.doubtful(why)
			continue
		}
		if shown == nil {
			shown = w
		}
		named = append(named, l)
	}
	if len(named) == 0 {
		return false
	}
	f := p.warn(r, "excludes", excludesOwn, "%q excludes %s on readings that the sheet gives as its own", r.ID,
		p.names(named))
	f.Detail = "A stone that reads as its own sheet says would be ruled out. Narrow the condition or what is " +
		"excluded, or correct the sheet."
	if slices.Contains(words, "rarely") {
		f.Severity = diag.Note
		f.Summary = fmt.Sprintf("%q excludes %s on readings that the sheet gives it, though rarely", r.ID,
			p.names(named))
		f.Detail = "What is rare still happens. If it can't be, the sheet says never; if it can, evidence against is " +
			"better than an exclusion."
	}
	for _, l := range named[:min(len(named), 3)] {
		f.Related = append(f.Related, sheetAt(p.Ruleset.Leaves[l]))
	}
	f.Sheets, f.Witness = append(f.Sheets, p.sheetsOf(named)...), shown
	return true
}

// sheetAt points to the sheet of a material.
func sheetAt(m *kb.Material) diag.Related {
	return diag.Related{Span: m.Place.Span, Says: "the sheet of " + m.Name}
}

// sheetsOf are the sheets of leaves.
func (p *Pass) sheetsOf(leaves []int) []Sheet {
	return english.Each(leaves, func(l int) Sheet { return sheetOf(p.Ruleset.Leaves[l]) })
}

// own is what the sheet of a material gives as its own readings. What the sheet is silent about must not be read.
func (p *Pass) own(m *kb.Material, observables []*vocab.Observable, words []kb.Frequency) *sat.Formula {
	all := sat.True
	some := sat.False
	for _, o := range observables {
		read := p.space.Read(o)
		usual := p.usual(m, o, words)
		if usual == nil {
			all = sat.And(all, sat.Not(read))
			continue
		}
		all = sat.And(all, sat.Or(sat.Not(read), usual))
		some = sat.Or(some, read)
	}
	return sat.And(all, some)
}

// usual is a reading that the sheet gives as the material's own, or nil where it says nothing.
func (p *Pass) usual(m *kb.Material, o *vocab.Observable, words []kb.Frequency) *sat.Formula {
	switch o.Kind {
	case vocab.Quantity:
		if g := m.Ranges[o.Property]; g != nil {
			return p.usualQuantity(o, g.Low, g.High)
		}
	case vocab.Choice:
		if f := m.Choices[o.Name]; f != nil {
			if set := outcomes(o, f, words); set != 0 {
				return p.space.Among(o, set)
			}
		}
	case vocab.Features:
		if f := m.Features[o.Name]; f != nil {
			return p.usualFeatures(o, f, words)
		}
	}
	return nil
}

// usualQuantity is a reading that a value within a range may give: one that has some of the range between its ends, and
// does not reach further beyond it than the test is uncertain. A threshold that is the end of the range cuts nothing
// off.
func (p *Pass) usualQuantity(o *vocab.Observable, low, high float64) *sat.Formula {
	room := 2 * p.uncertainty(o)
	return sat.And(p.space.Within(o, low-room, high+room), p.space.Touches(o, math.Nextafter(low, math.Inf(1)),
		math.Nextafter(high, math.Inf(-1))))
}

func (p *Pass) usualFeatures(o *vocab.Observable, f *kb.Frequencies, words []kb.Frequency) *sat.Formula {
	out := p.space.Read(o)
	for i := range o.Outcomes {
		w := frequency(f, o.Outcomes[i].Name)
		if !slices.Contains(words, w) {
			out = sat.And(out, sat.Not(p.space.Seen(o, i)))
		}
		if w == "always" {
			out = sat.And(out, sat.Not(p.space.Unseen(o, i)))
		}
	}
	return out
}

// Words of frequency: what a sheet gives as a material's own, that with what it gives as rare, and what can't be.
var (
	ownTo  = []kb.Frequency{kb.Always, kb.Usually, kb.Often, kb.Sometimes}
	seldom = append([]kb.Frequency{kb.Rarely}, ownTo...)
	never  = []kb.Frequency{kb.Never}
)

func frequency(f *kb.Frequencies, outcome string) kb.Frequency {
	if f.Single == outcome {
		return kb.Always
	}
	return f.Words[outcome]
}

// outcomes is the set of plain choices that a sheet gives one of some frequency words.
func outcomes(o *vocab.Observable, f *kb.Frequencies, words []kb.Frequency) (set uint64) {
	for i := range o.Outcomes {
		if slices.Contains(words, frequency(f, o.Outcomes[i].Name)) {
			set |= o.Meaning(i)
		}
	}
	return set
}

// repeatsSheet tells of a rule on one observable that excludes only what the sheets exclude on that reading already.
func (p *Pass) repeatsSheet(r *kb.Rule, fires *sat.Formula, o *vocab.Observable) {
	for _, l := range r.Excludes.Leaves {
		spared := p.spared(p.Ruleset.Leaves[l], o)
		if spared == nil || p.can(sat.And(fires, spared)) {
			return
		}
	}
	p.warn(r, "excludes", repeatsSheet, "%q excludes only what the sheets exclude on %s already", r.ID, o.Name).Detail =
		"The sheets do it on the same reading, and mind its uncertainty. Take the rule out, or accept this and say " +
			"what it is for."
}

// spared is a reading on which the sheet of a material does not exclude it; nil where the sheet is silent.
func (p *Pass) spared(m *kb.Material, o *vocab.Observable) *sat.Formula {
	switch o.Kind {
	case vocab.Quantity:
		if g := m.Ranges[o.Property]; g != nil {
			// The sheet excludes beyond misfit standard uncertainties and its tolerance, a condition holds beyond two.
			room := g.Tolerance + max(p.Ruleset.Policy.Misfit-2, 0)*p.uncertainty(o)
			return p.space.Touches(o, g.Low-room, g.High+room)
		}
	case vocab.Choice:
		if f := m.Choices[o.Name]; f != nil {
			return sat.And(p.space.Read(o), sat.Not(p.space.Among(o, outcomes(o, f, never))))
		}
	case vocab.Features:
		if f := m.Features[o.Name]; f != nil {
			out := p.space.Read(o)
			for i := range o.Outcomes {
				if frequency(f, o.Outcomes[i].Name) == "never" {
					out = sat.And(out, sat.Not(p.space.Seen(o, i)))
				}
			}
			return out
		}
	}
	return nil
}

// uncertainty is the largest that a test of the house has for an observable.
func (p *Pass) uncertainty(o *vocab.Observable) (u float64) {
	for _, y := range p.Ruleset.Vocabulary.Yields {
		if y.Observable == o {
			u = max(u, y.Uncertainty)
		}
	}
	return u
}
