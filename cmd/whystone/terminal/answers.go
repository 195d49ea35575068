package terminal

import (
	"fmt"
	"strings"

	"whystone/engine/answers"
	"whystone/engine/phrase"
	"whystone/kb/english"
)

// Answer writes an answer that is a sentence, and what it consists of, each with its label.
func (p *Printer) Answer(t Told, says, label string, parts []string) {
	p.heading(t)
	p.Text(Accent, 2, says)
	for _, x := range parts {
		p.Field(label, Plain, x)
	}
}

// WhyNot writes why a stone was not called something.
func (p *Printer) WhyNot(t Told, w *answers.WhyNot) {
	p.Answer(t, w.Says, "Excluded", phrase.Said(w.Exclusions))
	if w.Ledger == nil {
		return
	}
	p.Text(Bold, 2, fmt.Sprintf("The evidence for %s against %s, piece by piece",
		phrase.NameOf(t.Ruleset, w.Ledger.For), phrase.NameOf(t.Ruleset, w.Ledger.Against)))
	rows := english.Each(w.Ledger.Lines, func(l answers.Line) []string {
		return []string{"  " + l.Says, fmt.Sprintf("%+.2f", l.Difference)}
	})
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
	if more := len(out) - shownSets; more > 1 { // one takes no more room than to say so
		out = append(out[:shownSets], phrase.Reason{Code: phrase.OrOtherSets, Count: more}.Says())
	}
	return out
}

// readings lists readings as a sentence does; nothing when there are none.
func readings(list []answers.Reading) string {
	return strings.Join(english.Each(list, func(r answers.Reading) string {
		says := phrase.InWords(r.Name) + " " + r.Says
		if r.But != "" {
			says += " (" + r.But + ")"
		}
		return says
	}), "; ")
}
