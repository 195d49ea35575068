package terminal

import (
	"cmp"
	"maps"
	"slices"
	"strings"
	"time"

	"whystone/kb/diag"
	"whystone/kb/english"
	"whystone/kb/proofread"
)

// Findings writes what proofreading found, each with the case that shows it, and a sentence that counts them. Unless
// all are asked for, notes are only listed, by their codes, and accepted findings only counted.
func (p *Printer) Findings(r *proofread.Report, all bool) {
	notes := map[string][]string{}
	for _, f := range r.Findings {
		switch {
		case all || f.Accepted == nil && f.Severity != diag.Note:
			p.finding(f)
		case f.Accepted == nil:
			notes[string(f.Code)] = append(notes[string(f.Code)], subject(f))
		}
	}
	p.notes(notes)
	p.Text(Bold, 0, summary(r, all))
}

// subject is the sheet that a finding is about, or where it stands.
func subject(f proofread.Finding) string {
	if len(f.Sheets) == 0 {
		return f.Span.String()
	}
	return f.Sheets[0].ID
}

// notes lists the sheets that notes are about.
func (p *Printer) notes(byCode map[string][]string) {
	if len(byCode) == 0 {
		return
	}
	p.Text(Bold, 0, "Notes (--all writes them out)")
	for _, code := range slices.Sorted(maps.Keys(byCode)) {
		says := code
		if e, ok := diag.Explain(diag.Code(code)); ok {
			says = code + ": " + e.Says
		}
		p.hang(Plain, "  ", "  ", says)
		p.hang(Dim, "    ", "    ", strings.Join(byCode[code], ", "))
	}
	p.Blank()
}

func (p *Printer) finding(f proofread.Finding) {
	p.Diagnostics(diag.List{f.Diagnostic})
	if f.Witness != nil {
		p.Text(Plain, 2, "For example: "+strings.Join(f.Witness.Says, "; ")+".")
	}
	if a := f.Accepted; a != nil {
		p.Text(Plain, 2, "Accepted until "+a.Until.Format(time.DateOnly)+" ("+a.Span.String()+"): "+a.Because)
	}
	p.Blank()
}

func summary(r *proofread.Report, all bool) string {
	c := r.Counts()
	var parts []string
	for i, n := range []int{c.Errors, c.Warnings, c.Notes} {
		if one := [...]string{"error", "warning", "note"}[i]; n > 0 {
			parts = append(parts, english.Count(n, one, one+"s"))
		}
	}
	says := cmp.Or(strings.Join(parts, ", "), "Nothing found") + " in " + english.Count(r.Rules, "rule", "rules")
	if c.Accepted > 0 {
		says += ", besides " + english.Count(c.Accepted, "finding accepted", "findings accepted") +
			map[bool]string{false: " (--all shows them)"}[all]
	}
	return says + "."
}

// Explanation writes what is known of a finding's code.
func (p *Printer) Explanation(e diag.Explanation) {
	p.Text(Accent, 0, string(e.Code))
	p.Text(Bold, 2, e.Says)
	if e.Help != "" {
		p.Text(Plain, 2, strings.ReplaceAll(e.Help, "\n", " "))
	}
}

// Explanations lists all codes.
func (p *Printer) Explanations(all []diag.CodeInfo) {
	column := 0
	for _, c := range all {
		column = max(column, len(c.Code)+2)
	}
	for _, c := range all {
		p.hang(Plain, pad(string(c.Code), column), strings.Repeat(" ", column), c.Says)
	}
}
