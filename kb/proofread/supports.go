package proofread

import (
	"whystone/kb"
	"whystone/kb/diag"
	"whystone/kb/sat"
)

var (
	supportsExcluded = diag.New("supports-excluded",
		"A rule supports materials that the sheets exclude wherever it fires.",
		`Wherever the rule fires, the sheets exclude every material that it supports, on the readings that make it fire. Mostly
the name of the material, or a threshold, is a slip.`)
	callsInVain = diag.New("calls-in-vain",
		"A rule calls for a test that can't be done, or is forbidden, wherever it fires.",
		`Wherever the rule fires, a need of the test's sheet fails on the stone (a loose stone, a polished facet), or another rule forbids
the test. A verdict leaves such a call out.`)
)

func init() {
	Register(Check{Order: 40, Look: supports, Finds: []diag.Code{supportsExcluded}})
	Register(Check{Order: 50, Look: calls, Finds: []diag.Code{callsInVain}})
}

// supports finds rules that support materials which the sheets exclude on the very readings that make the rule fire:
// mostly a wrong name. Of a group it is told only if all of it is excluded.
func supports(p *Pass) {
	for r := range p.rules {
		fires := p.space.Fires(r)
		for i := range r.Weights {
			w := &r.Weights[i]
			if w.Ratio <= 1 || len(w.Leaves) == 0 || w.Unlisted || !p.allExcluded(r, fires, w.Leaves) || !p.can(fires) {
				continue
			}
			f := p.warn(r, "supports", supportsExcluded, "%q supports %s, which the sheets exclude wherever it fires",
				r.ID, p.names(w.Leaves))
			f.Detail = "Is another material meant, or another threshold? If the sheet is wrong, correct it there."
			f.Related = []diag.Related{sheetAt(p.Ruleset.Leaves[w.Leaves[0]])}
			f.Sheets = append(f.Sheets, p.sheetsOf(w.Leaves)...)
		}
	}
}

func (p *Pass) allExcluded(r *kb.Rule, fires *sat.Formula, leaves []int) bool {
	for _, l := range leaves {
		spared, spoken := sat.True, false
		for _, o := range r.Observes {
			if s := p.spared(p.Ruleset.Leaves[l], o); s != nil {
				spared, spoken = sat.And(spared, sat.Or(sat.Not(p.space.Read(o)), s)), true
			}
		}
		if !spoken || p.can(sat.And(fires, spared)) {
			return false
		}
	}
	return true
}

// calls finds rules that call for a test which can't be done where they fire: a need of its sheet fails there, or
// another rule forbids it there.
func calls(p *Pass) {
	forbidders := p.Ruleset.Forbidders()
	for r := range p.rules {
		for _, id := range r.CallsFor {
			p.inVain(r, p.Ruleset.Test(id), forbidders[id])
		}
	}
}

func (p *Pass) inVain(r *kb.Rule, t *kb.Test, forbidders []*kb.Rule) {
	fires := p.space.Fires(r)
	if !p.can(fires) {
		return
	}
	for _, n := range t.Needs {
		if n.If != nil && !p.can(sat.And(fires, sat.Not(p.space.FailsAt(n.If.Root)))) {
			c := p.warn(r, "calls_for", callsInVain, "%q calls for %q where it can't be done: it needs %s", r.ID, t.ID,
				n.Says)
			c.Detail = "Such a call is not told. Call for another test, or narrow the condition."
			c.Related = []diag.Related{{Span: t.Place.Span, Says: "the sheet of the test"}}
			return
		}
	}
	for _, f := range forbidders {
		if f != r && p.can(sat.And(fires, sat.Not(p.space.Fires(f)))) {
			continue
		}
		d := warning(callsInVain, diag.Span{}, "%q calls for %q, which %q forbids wherever it fires", r.ID, t.ID, f.ID)
		d.Detail = "What is forbidden comes first, so such a call is not told."
		d.Related = related("the rule that forbids it", []*kb.Rule{f})
		p.about(r, "calls_for", d, f)
		return
	}
}
