package terminal

// Change tells what became of a verdict and of the answer to the claim: what they were and are now, or that they stay.
func (p *Printer) Change(old, new Told) {
	before, now := old.inShort(), new.inShort()
	if before == now {
		p.dated("", "Unchanged: ", Plain, now)
		return
	}
	p.dated("", "Before: ", Plain, before)
	p.dated("", "Now: ", Bold, now)
}

// inShort is the verdict and the answer to the claim.
func (t Told) inShort() string {
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
