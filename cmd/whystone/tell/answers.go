package tell

import (
	"fmt"
	"strings"

	"whystone/engine/answers"
)

// WhyNot writes why a stone was not called something.
func (p *Printer) WhyNot(t Told, w *answers.WhyNot) {
	p.heading(t)
	p.Text(Accent, 2, plain(w.Says))
	for _, x := range w.Exclusions {
		p.Field("Excluded", Plain, plain(x.Says))
	}
	p.Field("Missing", Plain, w.Missing...)
	if w.Ledger == nil {
		return
	}
	p.Text(Bold, 2, fmt.Sprintf("The evidence for %s against %s, piece by piece", nameOf(t.Ruleset, w.Ledger.For), nameOf(t.Ruleset, w.Ledger.Against)))
	var rows [][]string
	for _, l := range w.Ledger.Lines {
		rows = append(rows, []string{"  " + plain(l.Says), fmt.Sprintf("%+.2f", l.Difference)})
	}
	rows = append(rows, []string{"  together, in log-weight", fmt.Sprintf("%+.2f", w.Ledger.Gap)})
	p.Table([]int{p.width - 9, 8}, []string{"", ""}, rows)
	p.Text(Plain, 2, "In short: "+plain(w.Ledger.Says)+".")
}

// Rests writes what a verdict rests on.
func (p *Printer) Rests(t Told, r *answers.Rests) {
	p.heading(t)
	p.Text(Accent, 2, r.Says)
	for _, s := range r.Sets {
		p.Field("Rests on", Plain, readings(s.Readings))
	}
	p.Field("Not needed", Dim, readings(r.NotNeeded))
}

// readings lists readings as a sentence does; nothing when there are none.
func readings(list []answers.Reading) string {
	var parts []string
	for _, r := range list {
		parts = append(parts, plain(r.Name)+" "+r.Says)
	}
	return strings.Join(parts, "; ")
}

// WouldChange writes the smallest changes that would flip a verdict.
func (p *Printer) WouldChange(t Told, c *answers.Change) {
	p.heading(t)
	p.Text(Accent, 2, c.Says)
	for _, x := range c.Changes {
		p.Field("Change", Plain, plain(x.Says))
	}
}

// Waiting writes which rules wait for a reading.
func (p *Printer) Waiting(t Told, w *answers.Waiting) {
	p.heading(t)
	p.Text(Accent, 2, plain(w.Says))
	for _, r := range w.Rules {
		p.Field("Rule", Plain, plain(r.Says))
	}
}

// Contradiction writes what to repeat, most doubtful first, and what each would point to.
func (p *Printer) Contradiction(t Told, c *answers.Contradiction) {
	p.heading(t)
	p.Text(Accent, 2, plain(c.Says))
	for _, r := range c.Sets {
		p.Field("Repeat", Plain, plain(r.Says))
	}
}
