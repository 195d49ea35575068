package proofread

import (
	"fmt"
	"slices"
	"time"

	"whystone/kb"
	"whystone/kb/diag"
)

// overArchive are the codes of findings that only an archive's cases can show.
var overArchive = []string{"never-decides", "never-fired"}

// accept marks the findings that the sheets accept, and finds acceptances that are over or accept nothing.
func (p *Pass) accept() {
	sheets, of := p.accepting()
	made := map[*kb.Acceptance]bool{}
	for i := range p.found {
		p.acceptOne(&p.found[i], of, made)
	}
	for _, s := range sheets {
		for i := range of[s] {
			if a := &of[s][i]; !made[a] && !slices.Contains(overArchive, a.Finding) {
				with := ""
				if a.With != "" {
					with = fmt.Sprintf(" with %q", a.With)
				}
				p.Add(Finding{Sheets: []Sheet{s}, Diagnostic: diag.Diagnostic{
					Code: "acceptance-idle", Severity: diag.Warning, Span: a.Span,
					Summary: fmt.Sprintf("%q accepts a finding %s%s, and there is none", s.ID, a.Finding, with),
					Detail:  "Take the acceptance out."}})
			}
		}
	}
}

func (p *Pass) acceptOne(f *Finding, of map[Sheet][]kb.Acceptance, made map[*kb.Acceptance]bool) {
	for _, at := range f.Sheets {
		var others []string
		for _, o := range f.Sheets {
			if o != at {
				others = append(others, o.ID)
			}
		}
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
			f.Related = append(f.Related, diag.Related{Span: a.Span, Says: "it was accepted until " + a.Until.Format(time.DateOnly)})
		}
	}
}

// accepting lists the sheets that accept findings, and which.
func (p *Pass) accepting() (sheets []Sheet, of map[Sheet][]kb.Acceptance) {
	of = map[Sheet][]kb.Acceptance{}
	add := func(kind, id string, accepts []kb.Acceptance) {
		if s := (Sheet{kind, id}); len(accepts) > 0 {
			sheets, of[s] = append(sheets, s), accepts
		}
	}
	for _, r := range p.Ruleset.Rules {
		add("rule", r.ID, r.Accepts)
	}
	for _, m := range p.Ruleset.Nodes {
		add("material", m.ID, m.Accepts)
	}
	for _, t := range p.Ruleset.Tables {
		add("table", t.ID, t.Accepts)
	}
	return sheets, of
}
