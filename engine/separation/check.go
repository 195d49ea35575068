package separation

import (
	"whystone/engine"
	"whystone/engine/phrase"
	"whystone/kb/diag"
	"whystone/kb/proofread"
)

var alikeToAllTests = diag.New("alike-to-all-tests", "No harmless test of the house tells two materials apart.",
	`No test that leaves the stone unharmed gives, on a stone as it usually is of one material, a reading that excludes the
other or is ten times likelier on the one than on the other. A verdict can then at best narrow a stone down to both, or name the group
that holds them. If a test is missing, write its sheet; if the sheets say less than is known, add it there; if nothing but a laboratory
can tell, accept the finding and say so.`)

func init() {
	proofread.Register(proofread.Check{Order: 200, Look: check, Finds: []diag.Code{alikeToAllTests}})
}

// check finds materials that no harmless test of the house tells apart. Those that a verdict may name together are as
// they should be.
func check(p *proofread.Pass) {
	table, err := Build(p.Context(), engine.Prepare(p.Ruleset), p.On)
	if err != nil {
		return // the context is over, which ends the proofreading
	}
	for _, g := range table.Findings(p.Lacks) {
		if g.Expected() {
			continue
		}
		f := proofread.Finding{Diagnostic: diag.Diagnostic{Code: alikeToAllTests, Severity: diag.Note,
			Summary: phrase.Summary(g.Reasons), Span: g.Materials[0].Place.Span}}
		for i, m := range g.Materials {
			f.Sheets = append(f.Sheets, proofread.Sheet{Kind: "material", ID: m.ID})
			if i > 0 {
				f.Related = append(f.Related, diag.Related{Span: m.Place.Span, Says: m.Name})
			}
		}
		p.Add(f)
	}
}
