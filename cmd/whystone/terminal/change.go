package terminal

import (
	"reflect"
)

// Change tells what became of a verdict and of the answer to the claim: what they were and are now, or that they stay.
func (p *Printer) Change(old, new Told) {
	if now := new.InShort(); old.same(new) {
		p.dated("", "Unchanged: ", Plain, now)
	} else {
		p.dated("", "Before: ", Plain, old.InShort())
		p.dated("", "Now: ", Bold, now)
	}
}

// same tells whether two verdicts on a case, and the answers to its claim, are told alike.
func (t Told) same(o Told) bool {
	return t.Verdict == o.Verdict && reflect.DeepEqual(t.Reasons, o.Reasons) && reflect.DeepEqual(t.Claim, o.Claim)
}

// InShort is the verdict and the answer to the claim.
func (t Told) InShort() string {
	if says := t.ClaimSays(); says != "" {
		return t.Says + " " + says
	}
	return t.Says
}

// Event writes what happened at a time of day, and its details below.
func (p *Printer) Event(clock, says string, details ...string) {
	p.dated(clock, "", Bold, says)
	for _, d := range details {
		p.dated("", "", Plain, d)
	}
}

// clockColumn is the width of a time of day with the gap after it.
const clockColumn = 10

func (p *Printer) dated(clock, label string, style Style, text string) {
	first := pad(clock, clockColumn) + label
	p.hang(style, first, pad("", cellsOf(first)), text)
}
