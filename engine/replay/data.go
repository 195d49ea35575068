package replay

// MovedBy is how far a share moves, as a rule, before it is counted as moved.
const MovedBy = 0.05

// Data is a report as data: what was counted, with the rates that follow from it.
type Data struct {
	*Part
	Rates []Rate      `json:"rates"`
	New   []Rate      `json:"rates_new,omitempty"`
	By    []Breakdown `json:"rates_by"`
	Gate  []Verdict   `json:"gate,omitempty"`
	Cases int64       `json:"cases"`
	Not   int64       `json:"not_replayable"`
}

// Data is the page as data.
func (p *Page) Data() *Data {
	d := &Data{Part: p.Part, Rates: p.Tally.All.Rates(), By: p.Tally.Breakdowns(), Gate: p.Gate, Cases: p.Tally.Records,
		Not: p.Count(NotReplayable)}
	if pair := p.Tally.Pair; pair != nil {
		d.New = pair.New.Rates()
	}
	return d
}
