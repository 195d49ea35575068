package proofread

import (
	"fmt"
	"slices"
	"time"

	"whystone/kb"
	"whystone/kb/diag"
)

var acceptanceIdle = diag.New("acceptance-idle", "A sheet accepts a finding that is not made.",
	`A sheet says under "accepts" that a finding is known and why it stays, but the finding is no longer made. Take the
acceptance out, so that it can't hide a later one. It is told of the topmost layer alone: what a house lays above, a finer balance say,
may do away with a finding that the sheets below rightly accept.`)

// accept marks the findings that the sheets accept, and finds acceptances that are over or accept nothing.
func (p *Pass) accept() {
	sheets, of, below := p.accepting()
	made := map[*kb.Acceptance]bool{}
	for i := range p.found {
		p.acceptOne(&p.found[i], of, made)
	}
	for _, s := range sheets {
		for i := range of[s] {
			a := &of[s][i]
			if made[a] || overArchive(a.Finding) || below[s] && diag.Known(a.Finding) {
				continue
			}
			p.Add(Finding{Sheets: []Sheet{s}, Diagnostic: idle(s, a)})
		}
	}
}

// idle is what is said of an acceptance that accepts nothing.
func idle(s Sheet, a *kb.Acceptance) diag.Diagnostic {
	if !diag.Known(a.Finding) {
		return diag.Diagnostic{Code: diag.UnknownName, Span: a.At, Summary: fmt.Sprintf("there is no finding %q",
			a.Finding),
			Nearest: diag.Nearest(string(a.Finding), diag.Words())}
	}
	with := ""
	if a.With != "" {
		with = fmt.Sprintf(" with %q", a.With)
	}
	d := warning(acceptanceIdle, a.Span, "%q accepts a finding %s%s, and there is none", s.ID, a.Finding, with)
	d.Detail = "Take the acceptance out."
	return d
}

func (p *Pass) acceptOne(f *Finding, of map[Sheet][]kb.Acceptance, made map[*kb.Acceptance]bool) {
	for _, at := range f.Sheets {
		others := besides(f.Sheets, at, func(o Sheet) string { return o.ID })
		for i := range of[at] {
			a := &of[at][i]
			if !a.Covers(f.Code, others) {
				continue
			}
			made[a] = true
			if p.On.Before(a.Until) {
				f.Accepted = a
				return
			}
			f.Related = append(f.Related, diag.Related{Span: a.Span, Says: "it was accepted until " +
				a.Until.Format(time.DateOnly)})
		}
	}
}

// accepts tells whether a rule's sheet speaks of a finding that it makes with another.
func accepts(r *kb.Rule, code diag.Code, with *kb.Rule) bool {
	return slices.ContainsFunc(r.Accepts, func(a kb.Acceptance) bool { return a.Covers(code, []string{with.ID}) })
}

// accepting lists the sheets that accept findings, which, and those of them that another layer lies above.
func (p *Pass) accepting() (sheets []Sheet, of map[Sheet][]kb.Acceptance, below map[Sheet]bool) {
	of, below = map[Sheet][]kb.Acceptance{}, map[Sheet]bool{}
	add := func(kind, id string, at kb.Place, accepts []kb.Acceptance) {
		if s := (Sheet{kind, id}); len(accepts) > 0 {
			sheets, of[s] = append(sheets, s), accepts
			below[s] = p.layers[at.Layer] < len(p.layers)-1
		}
	}
	for _, r := range p.Ruleset.Rules {
		add("rule", r.ID, r.Place, r.Accepts)
	}
	for _, m := range p.Ruleset.Nodes {
		add("material", m.ID, m.Place, m.Accepts)
	}
	for _, t := range p.Ruleset.Tables {
		add("table", t.ID, t.Place, t.Accepts)
	}
	return sheets, of, below
}

// overArchive tells whether only an archive's cases can show what a code says.
func overArchive(code diag.Code) bool {
	return slices.ContainsFunc(checks, func(c Check) bool {
		return c.Look == nil && slices.Contains(c.Finds, code)
	})
}
