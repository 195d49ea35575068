package terminal

import (
	"fmt"
	"strings"

	"whystone/engine/answers"
	"whystone/engine/phrase"
)

// WhyNot writes why a stone was not called something.
func (p *Printer) WhyNot(t Told, w *answers.WhyNot) {
	p.heading(t)
	p.Text(Accent, 2, w.Says)
	for _, x := range w.Exclusions {
		p.Field("Excluded", Plain, x.Says)
	}
	if w.Ledger == nil {
		return
	}
	p.Text(Bold, 2, fmt.Sprintf("The evidence for %s against %s, piece by piece", nameOf(t.Ruleset, w.Ledger.For),
		nameOf(t.Ruleset, w.Ledger.Against)))
	var rows [][]string
	for _, l := range w.Ledger.Lines {
		rows = append(rows, []string{"  " + l.Says, fmt.Sprintf("%+.2f", l.Difference)})
	}
	rows = append(rows, []string{"  together, in log-weight", fmt.Sprintf("%+.2f", w.Ledger.Gap)})
	p.Table([]int{p.width - 9, 8}, []string{"", ""}, rows)
	p.Text(Plain, 2, "In short: "+w.Ledger.Says+".")
}

// Rests writes what a verdict rests on.
func (p *Printer) Rests(t Told, r *answers.Rests) {
	p.heading(t)
	p.Text(Accent, 2, r.Says)
	p.Field("Based on", Plain, basedOn(r)...)
	if len(r.NotNeeded) > 0 {
		p.Field("Not needed", Dim, readings(r.NotNeeded))
	}
}

// shownSets is how many sets of readings are told beside a verdict.
const shownSets = 3

// basedOn tells the smallest sets of readings that alone give a verdict, each in a line.
func basedOn(r *answers.Rests) []string {
	var out []string
	for _, s := range r.Sets {
		switch {
		case len(s.Readings) == 0:
			return []string{phrase.Reason{Code: phrase.OnNoReading}.Says()}
		case len(out) == 0:
			out = append(out, readings(s.Readings))
		default:
			out = append(out, "or "+readings(s.Readings))
		}
	}
	if len(out) == 0 {
		return []string{phrase.Reason{Code: phrase.OnAllReadings, Count: r.Searched}.Says()}
	}
	return out
}

// restsOn is what a verdict that names or narrows is based on, as why --rests has it.
func (t Told) restsOn() []string {
	if t.Named == nil && len(t.Nodes) == 0 {
		return nil
	}
	out := basedOn(answers.New(t.Engine).Rests(t.Case, t.Moment))
	if more := len(out) - shownSets; more > 0 {
		out = append(out[:shownSets], phrase.Reason{Code: phrase.OrOtherSets, Count: more}.Says())
	}
	return out
}

// readings lists readings as a sentence does; nothing when there are none.
func readings(list []answers.Reading) string {
	var parts []string
	for _, r := range list {
		says := phrase.InWords(r.Name) + " " + r.Says
		if r.But != "" {
			says += " (" + r.But + ")"
		}
		parts = append(parts, says)
	}
	return strings.Join(parts, "; ")
}

// WouldChange writes the smallest changes that would flip a verdict.
func (p *Printer) WouldChange(t Told, c *answers.Change) {
	p.heading(t)
	p.Text(Accent, 2, c.Says)
	for _, x := range c.Changes {
		p.Field("Change", Plain, x.Says)
	}
}

// Waiting writes which rules wait for a reading.
func (p *Printer) Waiting(t Told, w *answers.Waiting) {
	p.heading(t)
	p.Text(Accent, 2, w.Says)
	for _, r := range w.Rules {
		p.Field("Rule", Plain, r.Says)
	}
}

// Contradiction writes what to repeat, most doubtful first, and what each would point to.
func (p *Printer) Contradiction(t Told, c *answers.Contradiction) {
	p.heading(t)
	p.Text(Accent, 2, c.Says)
	for _, r := range c.Sets {
		p.Field("Repeat", Plain, r.Says)
	}
}
