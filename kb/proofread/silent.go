package proofread

import (
	"fmt"
	"slices"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/english"
)

var sheetLacks = diag.New("sheet-lacks", "A material's sheet does not say what the policy asks every sheet for.",
	`The policy's every_sheet_says: lists observables and properties that every material's sheet is to speak of. A reading
of what a sheet is silent about never excludes the material, so that a gap looks like a fit. What a group's sheet says counts for all
below it. Write what is known; if it varies without limit, give the outcomes that are seen and how often.`)

func init() { Register(Check{Order: 80, Look: silent, Finds: []diag.Code{sheetLacks}}) }

// silent finds materials whose sheets do not say what the policy asks every sheet for; what a group says counts for all
// below it. No reading of what a sheet is silent about can ever exclude the material.
func silent(p *Pass) {
	for _, m := range p.Ruleset.Leaves {
		lacks := slices.DeleteFunc(slices.Clone(p.Ruleset.Policy.EverySheetSays),
			func(name string) bool { return m.Speaks(p.Ruleset.Vocabulary, name) })
		if len(lacks) == 0 {
			continue
		}
		p.warnOf(sheetOf(m), m.Place.Span, sheetLacks, "the sheet of %s says nothing of %s", named(m),
			english.List(lacks, "and")).Detail = "The policy asks every sheet for it, as no reading of it can " +
			"exclude a material whose sheet is silent. Add it here, or to a group above."
	}
}

// named is what a finding calls a material.
func named(m *kb.Material) string {
	if m.Other {
		return m.Name
	}
	return fmt.Sprintf("%q", m.ID)
}

// sheetOf is the sheet that speaks for a material.
func sheetOf(m *kb.Material) Sheet {
	if m.Other {
		m = m.Parent
	}
	return Sheet{"material", m.ID}
}
