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
	made := map[*kb.Acceptance]bool{}
	for i := range p.found {
		p.acceptOne(&p.found[i], made)
	}
	for _, s := range p.accepting() {
		for i := range s.accepts {
			if a := &s.accepts[i]; !made[a] && !slices.Contains(overArchive, a.Finding) {
				with := ""
				if a.With != "" {
					with = fmt.Sprintf(" with %q", a.With)
				}
				p.found = append(p.found, Finding{Sheets: []Sheet{s.sheet}, Diagnostic: diag.Diagnostic{
					Code: "acceptance-idle", Severity: diag.Warning, Span: a.Span,
					Summary: fmt.Sprintf("%q accepts a finding %s%s, and there is none", s.sheet.ID, a.Finding, with),
					Detail:  "Take the acceptance out."}})
			}
		}
	}
}

func (p *Pass) acceptOne(f *Finding, made map[*kb.Acceptance]bool) {
	for _, at := range f.Sheets {
		var others []string
		for _, o := range f.Sheets {
			if o != at {
				others = append(others, o.ID)
			}
		}
		list := p.acceptancesOf(at)
		for i := range list {
			a := &list[i]
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

type accepting struct {
	sheet   Sheet
	accepts []kb.Acceptance
}

func (p *Pass) accepting() []accepting {
	var out []accepting
	for _, r := range p.Ruleset.Rules {
		out = append(out, accepting{Sheet{"rule", r.ID}, r.Accepts})
	}
	for _, m := range p.Ruleset.Nodes {
		out = append(out, accepting{Sheet{"material", m.ID}, m.Accepts})
	}
	for _, t := range p.Ruleset.Tables {
		out = append(out, accepting{Sheet{"table", t.ID}, t.Accepts})
	}
	return out
}

func (p *Pass) acceptancesOf(s Sheet) []kb.Acceptance {
	switch s.Kind {
	case "rule":
		return p.Ruleset.Rule(s.ID).Accepts
	case "material":
		return p.Ruleset.Node(s.ID).Accepts
	case "table":
		return p.Ruleset.Table(s.ID).Accepts
	}
	return nil
}
