package proofread

import (
	"fmt"
	"maps"
	"slices"

	"whystone/kb"
	"whystone/kb/diag"
)

var sheetsAlike = diag.New("sheets-alike", "Two materials of one origin have sheets that say the same of everything.",
	`Two sheets give the same ranges, outcomes and features, and the same origin. Every verdict stays between them. What grew in a
laboratory may well be like what grew in the ground; two natural stones that are alike in all are perhaps one.`)

func init() { Register(Check{Order: 83, Look: alike, Finds: []diag.Code{sheetsAlike}}) }

// alike finds sheets of two materials of one origin that say the same of everything.
func alike(p *Pass) {
	said := map[string]*kb.Material{}
	for _, m := range p.Ruleset.Leaves {
		if m.Other || len(m.Ranges)+len(m.Choices)+len(m.Features) == 0 {
			continue
		}
		key := sheetKey(m)
		first := said[key]
		if first == nil {
			said[key] = m
			continue
		}
		f := p.warnOf(sheetOf(m), m.Place.Span, sheetsAlike, "the sheets of %s and %s say the same of everything",
			named(first), named(m))
		f.Sheets = append(f.Sheets, sheetOf(first))
		f.Related = []diag.Related{{Span: first.Place.Span, Says: "the other"}}
		f.Detail = "No reading can tell them apart, and both are of one origin. Say in what they differ, or let one " +
			"sheet speak for both."
	}
}

// sheetKey is equal for materials of one origin whose sheets say the same.
func sheetKey(m *kb.Material) string {
	out := string(m.Origin)
	for _, name := range sorted(m.Ranges) {
		r := m.Ranges[name]
		out += fmt.Sprint(" ", name, r.Low, r.High, r.Tolerance)
		if r.Typical != nil {
			out += fmt.Sprint(*r.Typical)
		}
	}
	for _, of := range sorted(m.Relations) {
		r := m.Relations[of]
		out += fmt.Sprint(" ", of, r.By.Name, r.Ray, r.Through, r.Within)
	}
	for _, of := range []map[string]*kb.Frequencies{m.Choices, m.Features} {
		for _, name := range sorted(of) {
			out += fmt.Sprint(" ", name, of[name].Words)
		}
	}
	return out
}

func sorted[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }
