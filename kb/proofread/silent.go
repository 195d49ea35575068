package proofread

import (
	"fmt"

	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/english"
)

// silent finds materials whose sheets do not say what the policy asks every sheet for; what a group says counts for all below
// it. No reading of what a sheet is silent about can ever exclude the material.
func silent(p *Pass) {
	for _, m := range p.Ruleset.Leaves {
		var lacks []string
		for _, name := range p.Ruleset.Policy.EverySheetSays {
			if !m.Speaks(p.Ruleset.Vocabulary, name) {
				lacks = append(lacks, name)
			}
		}
		if len(lacks) == 0 {
			continue
		}
		p.Add(Finding{Sheets: []Sheet{sheetOf(m)}, Diagnostic: diag.Diagnostic{Code: "sheet-lacks", Severity: diag.Warning,
			Span: m.Place.Span, Summary: fmt.Sprintf("the sheet of %s says nothing of %s", named(m), english.List(lacks, "and")),
			Detail: "The policy asks every sheet for it, as no reading of it can exclude a material whose sheet is silent. Add it here, or to a group above."}})
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
